from dataclasses import dataclass


@dataclass(frozen=True)
class Answer:
    """Something a record tells: a label with its answer, or a sentence that begins with it."""

    label: str
    text: str
    is_sentence: bool = False

    @property
    def prompt(self) -> str:
        is_closed = self.is_sentence or self.label.endswith("?")
        return self.label if is_closed else f"{self.label}:"

    def __str__(self) -> str:
        return f"{self.prompt} {self.text}"
