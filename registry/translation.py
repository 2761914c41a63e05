"""Marks words for translation where the text is wanted later, typed as the text it becomes; and
the one language of what is stored."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from django.conf import settings
from django.utils import translation

if TYPE_CHECKING:

    def _(message: str) -> str:
        """Typed as the text it becomes: it behaves as one wherever a page or a file shows it."""

else:
    from django.utils.translation import gettext_lazy as _

__all__ = ["_", "in_english", "language_of"]

OFFERED = {"en": "en-gb"} | {code: code for code, _name in settings.LANGUAGES}


@contextmanager
def in_english() -> Iterator[None]:
    """For what is stored, hashed or read by machines: it must not depend on who asked for it."""
    with translation.override(settings.LANGUAGE_CODE):
        yield


@contextmanager
def language_of(language: str) -> Iterator[None]:
    """For what is written for one reader outside of their request; English where none is chosen."""
    with translation.override(OFFERED.get(language, settings.LANGUAGE_CODE)):
        yield
