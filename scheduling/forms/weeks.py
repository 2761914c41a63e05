"""What people answer on the page of a week."""

from collections.abc import Sequence

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from scheduling.forms.orders import check_year
from scheduling.planning.weeks.moving import Option, chosen


class WeekForm(forms.Form):
    """A day of the week that is meant."""

    on = forms.DateField(validators=[check_year])


class MoveForm(forms.Form):
    """One of the crews' days that take the order, and why it may be late."""

    where = forms.CharField(label=_("Crew and day"), max_length=40)
    seen = forms.IntegerField(widget=forms.HiddenInput)
    reason = forms.CharField(
        label=_("Reason"),
        required=False,
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=_("Needed only when the work would be late."),
    )

    def __init__(self, *args, options: Sequence[Option], **kwargs):
        super().__init__(*args, **kwargs)
        self.options = options

    def clean_where(self) -> str:
        option = chosen(self.options, self.cleaned_data["where"])
        if option is None:
            raise ValidationError(gettext("Choose a crew and day of this week that is not over."))
        if option.starts_at is None:
            raise ValidationError(option.why)
        return option.code
