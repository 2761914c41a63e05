"""Passwords that are refused although they are long enough: those that guessing tries first.

No rule asks for capitals, digits or signs, and none forbids any: they make passwords worse.
"""

import re
from functools import cache
from pathlib import Path

from django.core.exceptions import ImproperlyConfigured, ValidationError
from django.utils.translation import gettext

from registry.models import User

BOOK_WORDS = (
    "riserbook", "riser", "sprinkler", "sprinklers", "nitrogen", "inert", "inerting", "corrosion",
    "password", "passwort", "fire", "firesafety", "protection", "pipe", "valve", "system", "book",
    "manager", "technician", "inspector", "admin", "welcome", "changeme", "spring", "summer",
    "autumn", "winter",
)  # fmt: skip
"""What somebody who knows where the password is for would try; with each person's own words."""


class BookWords:
    """A password is more than words of the book, of the person and of who they work for, with a
    number behind."""

    def validate(self, password: str, user: User | None = None) -> None:
        left = re.sub(r"[\W\d_]+", "", password.casefold())
        for word in sorted({*BOOK_WORDS, *_words_of(user)}, key=len, reverse=True):
            left = left.replace(word, "")
        if len(left) < 4 and re.search(r"[^\W\d_]", password):
            raise ValidationError(
                gettext(
                    "Little is left of this password without the words of the book, of your name "
                    "and of your organisation. Take words that have nothing to do with it."
                ),
                code="book_words",
            )

    def get_help_text(self) -> str:
        return gettext("More than words of the book, of your name or of your organisation.")


def _words_of(user: User | None) -> set[str]:
    if user is None:
        return set()
    said = [user.name, user.email.partition("@")[0]]
    if user.pk:
        said += user.organisations.values_list("name", flat=True)
    words = {word for text in said for word in re.split(r"[\W\d_]+", text.casefold())}
    return {word for word in words if len(word) >= 3}


class RefusedList:
    """A list of the installation's own, one password a line: for example of those known to be
    stolen. Nothing is asked of anybody else."""

    def __init__(self, path: str):
        self.path = path

    def validate(self, password: str, user: User | None = None) -> None:
        if password.casefold() in _listed(self.path):
            raise ValidationError(
                gettext("This password is on a list of stolen ones. Take another."), code="stolen"
            )

    def get_help_text(self) -> str:
        return gettext("Not on the list of stolen passwords.")


@cache
def _listed(path: str) -> frozenset[str]:
    try:
        lines = Path(path).read_text(encoding="utf-8").splitlines()
    except (OSError, UnicodeError) as error:
        raise ImproperlyConfigured(
            f"REFUSED_PASSWORDS_FILE names {path}, which cannot be read as text: {error}"
        ) from error
    return frozenset(line.strip().casefold() for line in lines if line.strip())
