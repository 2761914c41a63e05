"""What a person answered to the questions a file raises; everything unanswered stays unguessed."""

from dataclasses import asdict, dataclass, field
from typing import Any

LEAVE, ADD = "leave", "add"


@dataclass(frozen=True)
class Answers:
    date_order: str | None = None  # dmy or mdy, for dates like 3/4/2001
    length_unit: str | None = None  # for lengths without a unit
    similar: str = LEAVE  # runs that resemble one already in the register: leave out or add
    choices: dict[str, str] = field(default_factory=dict)  # choice_key -> value for one system

    def to_json(self) -> dict[str, Any]:
        return asdict(self)

    @classmethod
    def from_json(cls, data: dict[str, Any]) -> "Answers":
        return cls(**{name: data[name] for name in cls.__dataclass_fields__ if name in data})


@dataclass(frozen=True)
class Question:
    """Asked on the preview page; `name` is where the answer goes."""

    name: str
    words: str
    options: tuple[tuple[str, str], ...]
    evidence: str = ""
    proposed: str = ""  # shown as a hint, never applied

    @property
    def is_only_a_fact(self) -> bool:
        """Left open it keeps no row out."""
        return self.name.startswith("gas_supply:")

    def to_json(self) -> dict[str, Any]:
        return asdict(self)


def choice_key(site: str, tag: str, field_name: str) -> str:
    return f"{field_name}:{site}:{tag}"
