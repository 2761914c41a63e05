"""Signs that nobody types: refused by every text field of every form, in this one place.

Most are invisible and change what a reader, a log, a spreadsheet or a calendar program makes of the
text; PostgreSQL does not even store the first of them. Line breaks are typed where a field has
several lines. No address of the book takes a JSON body; what a phone sends later are forms too.
"""

import re
from collections.abc import Callable
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext

# C0 and C1 controls, what turns the direction of text around, the byte order mark, and halves of
# surrogate pairs. Joiners between letters are part of some languages and stay.
NEVER = re.compile(
    r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069\ufeff\ud800-\udfff]"
)
BREAKS = re.compile(r"[\t\n\r\u2028\u2029]")
SEVERAL_LINES = (forms.Textarea, forms.HiddenInput)


def check_plain(text: str, *, has_lines: bool) -> None:
    """Raises ValidationError naming the sign and where it stands."""
    found = NEVER.search(text)
    if found:
        raise ValidationError(
            gettext(
                "Sign {number} is U+{code:04X}, which is invisible and cannot be kept. Type the "
                "text anew instead of pasting it."
            ).format(number=found.start() + 1, code=ord(found[0])),
            code="control",
        )
    if not has_lines and BREAKS.search(text):
        raise ValidationError(
            gettext("Write it on one line, without a line break or tab."), code="lines"
        )


def plain(text: str) -> str:
    """For what is no field of a form: the same signs are left out."""
    return NEVER.sub("", text)


def guard_every_text_field() -> None:
    """Once, when the program starts: a form that is written later cannot forget it."""
    if not hasattr(forms.CharField.validate, "is_guarded"):
        forms.CharField.validate = _guarded(forms.CharField.validate)  # type: ignore[method-assign]


def _guarded(validate: Callable[..., None]) -> Callable[..., None]:
    def guarded(field: forms.CharField, value: Any) -> None:
        validate(field, value)
        if isinstance(value, str):
            check_plain(value, has_lines=isinstance(field.widget, SEVERAL_LINES))

    guarded.is_guarded = True  # type: ignore[attr-defined]
    return guarded
