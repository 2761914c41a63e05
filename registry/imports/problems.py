"""What can be wrong with a register, in words a person can act on."""

from dataclasses import dataclass

from django.utils.translation import ngettext


class ImportFileError(ValueError):
    """The file as a whole cannot be read; the message says what would be right."""


@dataclass(frozen=True, slots=True)
class Problem:
    """One field of one row: why it cannot be loaded, and what would be right."""

    field: str
    typed: str
    wrong: str
    right: str
    question: str = ""  # the name of the question whose answer would settle it

    def __str__(self) -> str:
        return f"{self.field} “{self.typed}”: {self.wrong}" if self.typed else self._bare()

    def _bare(self) -> str:
        return f"{self.field}: {self.wrong}"


def counted(number: int, noun: str) -> str:
    """“1 row”, “3 ditto marks”: of the nouns that an import counts."""
    nouns = {
        "row": ngettext("%(count)s row", "%(count)s rows", number),
        "other date": ngettext("%(count)s other date", "%(count)s other dates", number),
        "rated pressure": ngettext("%(count)s rated pressure", "%(count)s rated pressures", number),
        "system": ngettext("%(count)s system", "%(count)s systems", number),
        "tag": ngettext("%(count)s tag", "%(count)s tags", number),
        "ditto mark": ngettext("%(count)s ditto mark", "%(count)s ditto marks", number),
        "empty cell": ngettext("%(count)s empty cell", "%(count)s empty cells", number),
    }
    return nouns[noun] % {"count": f"{number:,}"}


class CellError(ValueError):
    """Raised by the readers of single cells."""

    question = ""

    def __init__(self, wrong: str, right: str, question: str = ""):
        self.wrong, self.right = str(wrong), str(right)  # a translation is fixed where it is kept
        self.question = question or self.question
        super().__init__(f"{wrong}. {right}")

    def at(self, field: str, typed: str) -> Problem:
        return Problem(field, typed.strip()[:80], self.wrong, self.right, self.question)


class LeftOut(Exception):
    """A person said that rows like this one are no pipe of the book."""
