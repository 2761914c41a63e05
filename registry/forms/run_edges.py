"""Forms of the two edges of a run: the owner's leave at its start, and its early end."""

from datetime import datetime, timedelta
from uuid import uuid4

from django import forms
from django.utils.translation import gettext

from registry.forms.moments import LocalMomentField, held_field
from registry.kinds.parts import FIRE_WATCH, LEAVE, LEAVE_BY, TOLD_ALL
from registry.models import InertingRun
from registry.translation import _


class LeaveForm(forms.Form):
    """Asked where the run is started, and never answered beforehand."""

    leave = forms.ChoiceField(
        label=LEAVE.label,
        choices=LEAVE.choices,
        widget=forms.RadioSelect,
        help_text=LEAVE.help,
        error_messages={
            "required": _("A run drains the pipe: say whether the owner gave leave for it.")
        },
    )
    leave_by = forms.CharField(label=LEAVE_BY.label, max_length=200, required=False)
    told_all, fire_watch = (
        forms.ChoiceField(
            label=field.label,
            choices=[("", _("Not recorded")), *field.choices],
            help_text=field.help,
            required=False,
        )
        for field in (TOLD_ALL, FIRE_WATCH)
    )


class StopForm(forms.Form):
    client_key = forms.UUIDField(widget=forms.HiddenInput)
    held_ms = held_field()
    reason = forms.CharField(
        label=_("Why does the run stop?"), max_length=500, widget=forms.Textarea(attrs={"rows": 2})
    )
    left_as = forms.CharField(
        label=_("How is the system left?"),
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_("Pressure in the pipe, valves, whether protection is back, who was told."),
    )

    def __init__(self, data=None, *, run: InertingRun):
        super().__init__(data, initial={"client_key": uuid4()})
        self.fields["occurred_at"] = LocalMomentField(
            zone=run.system.site.zone,
            label=gettext("When"),
            required=False,
            help_text=gettext("Empty means now."),
        )

    def occurred_at(self, now: datetime) -> datetime:
        """As typed, or now less what a phone held it back."""
        held = timedelta(milliseconds=self.cleaned_data["held_ms"] or 0)
        return self.cleaned_data["occurred_at"] or now - held
