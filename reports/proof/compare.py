"""A file that somebody kept, against the book as it stands."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice

from django.utils.translation import gettext

from registry.access import owners_to_prove
from registry.models import OwnerLog, System, User
from registry.proof.checkpoints import Checkpoint
from registry.proof.notes import DASH, NoteError, parse_note
from registry.verifying import against_checkpoint, against_heads, read_heads
from registry.verifying.against import HeadsError

LARGEST = 20_000_000
SHOWN = 20


class CompareError(ValueError):
    """A file that is neither; says what would be right."""


@dataclass(frozen=True)
class Comparison:
    name: str
    what: str
    differences: tuple[str, ...]

    @property
    def goes_on(self) -> bool:
        return not self.differences


def compare(name: str, content: bytes, user: User) -> Comparison:
    """Held only against what the person may read."""
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise CompareError(gettext("This is no text file, so neither of the two.")) from error
    try:
        what, found = _found(text, user)
        return Comparison(name, what, tuple(islice(found, SHOWN)))
    except (HeadsError, NoteError) as error:
        raise CompareError(str(error)) from error


def _found(text: str, user: User) -> tuple[str, Iterator[str]]:
    if f"\n\n{DASH}" in text:
        size = Checkpoint.from_text(parse_note(text).text).size
        logs = OwnerLog.objects.filter(owner__in=owners_to_prove(user).values("pk"))
        what = gettext("a checkpoint of {size} records").format(size=size)
        return what, against_checkpoint(text, logs)
    heads = read_heads(text.splitlines())
    what = gettext("a list of the heads of {count} ledgers").format(count=len(heads))
    return what, against_heads(heads, System.objects.visible_to(user))
