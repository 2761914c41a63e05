"""Marks words for translation where the text is wanted later, typed as the text it becomes."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:

    def _(message: str) -> str:
        """Typed as the text it becomes: it behaves as one wherever a page or a file shows it."""

else:
    from django.utils.translation import gettext_lazy as _

__all__ = ["_"]
