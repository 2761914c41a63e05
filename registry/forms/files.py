"""Photos and documents in forms; each is checked by what its bytes say."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext

from registry.services.attaching import ACCEPTED, LARGEST, MOST, check_file
from registry.services.ledger import RecordError
from registry.translation import _


class FilesInput(forms.ClearableFileInput):
    allow_multiple_selected = True


class FilesField(forms.FileField):
    """Several photos and documents. The place where a photo was taken is taken out of it."""

    def __init__(self, **kwargs: Any):
        attrs = {"accept": "image/jpeg,image/png,image/webp,image/heic,application/pdf"}
        super().__init__(
            **{
                "widget": FilesInput(attrs=attrs),
                "label": _("Photos and documents"),
                "required": False,
                "help_text": gettext(
                    "Gauge, meter or tag: {accepted}, up to {largest} MB each, {most} at most. "
                    "Where a photo was taken is taken out of it before it is kept."
                ).format(accepted=ACCEPTED, largest=LARGEST // 2**20, most=MOST),
                **kwargs,
            }
        )

    def clean(self, data: Any, initial: Any = None) -> list[Any]:
        one_by_one = data if isinstance(data, list | tuple) else [data] if data else []
        if self.required and not one_by_one:
            raise ValidationError(self.error_messages["required"], code="required")
        files = [super(FilesField, self).clean(one, initial) for one in one_by_one]
        for file in files:
            try:
                check_file(file)
            except RecordError as error:
                raise ValidationError(error.problems["files"], code="file") from None
        return files
