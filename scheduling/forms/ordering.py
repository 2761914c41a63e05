from typing import Any
from uuid import uuid4

from django import forms
from django.utils.translation import gettext_lazy as _

from registry.forms.days import DayInput


class OrderForm(forms.Form):
    """When the owner wants a system inert by."""

    client_key = forms.UUIDField(required=False, widget=forms.HiddenInput)
    wanted_by = forms.DateField(
        label=_("Wanted by"), required=False, widget=DayInput(),
        help_text=_("The last day. Leave it empty for the days that the rule gives."),
    )  # fmt: skip
    note = forms.CharField(
        label=_("Note to whoever does it"), required=False, max_length=4000,
        widget=forms.Textarea(attrs={"rows": 2}),
    )  # fmt: skip

    def __init__(self, data: Any = None, *, today):
        super().__init__(data, initial={"client_key": uuid4()})
        self.today = today

    def clean_wanted_by(self):
        day = self.cleaned_data["wanted_by"]
        if day and day < self.today:
            raise forms.ValidationError(
                _("That day is past at the site; give today or a later one.")
            )
        return day
