"""Marks the words of kinds and fields for translation."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:

    def _(message: str) -> str:
        """Typed as the text it becomes: it behaves as one wherever a page or a file shows it."""

else:
    from django.utils.translation import gettext_lazy as _

__all__ = ["_"]
