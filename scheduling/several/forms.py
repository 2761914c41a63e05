from collections.abc import Sequence
from datetime import datetime
from typing import Any, cast

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from registry.forms.days import DayInput
from registry.models import Organisation, Site, System
from registry.words.spoken import day_words
from scheduling.follow_ups.standpoint import parties_at
from scheduling.several.deeds import Deed, open_titles


class SeveralForm(forms.Form):
    """What one deed needs to know for all of the systems."""

    wanted_by = forms.DateField(
        label=_("Wanted by"), required=False, widget=DayInput(),
        help_text=_("The last day. Leave it empty for the days that the rule gives."),
    )  # fmt: skip
    item = forms.ChoiceField(label=_("What was done"))
    done_on = forms.DateField(label=_("Done on"), widget=DayInput())
    note = forms.CharField(
        label=_("Note"), required=False, max_length=4000,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=_("Kept with each. Log by itself whatever found something wrong."),
    )  # fmt: skip
    party = forms.ModelChoiceField(
        Organisation.objects.none(), label=_("Who is to do it"), empty_label=None
    )
    reason = forms.CharField(
        label=_("Note to them"), required=False, max_length=1000,
        widget=forms.Textarea(attrs={"rows": 2}),
    )  # fmt: skip

    def __init__(self, *args: Any, deed: Deed, systems: Sequence[System], now: datetime, **kwargs):
        super().__init__(*args, **kwargs)
        self.now = now
        for name in set(self.fields) - set(deed.asks):
            del self.fields[name]
        if "item" in self.fields:
            titles = open_titles(systems, now)
            cast(forms.ChoiceField, self.fields["item"]).choices = titles
            self.fields["done_on"].initial = now.date()
            if not titles:
                self.fields["item"].help_text = gettext("No inspection is open at these systems.")
        if "party" in self.fields:
            sites = Site.objects.filter(systems__in=systems).distinct().select_related("owner")
            keys = {party.pk for site in sites for party in parties_at(site, now)}
            parties = Organisation.objects.filter(pk__in=keys)
            cast(forms.ModelChoiceField, self.fields["party"]).queryset = parties

    def clean_done_on(self):
        day = self.cleaned_data["done_on"]
        if day > self.now.date():
            raise forms.ValidationError(
                gettext("%(day)s lies ahead; give the day on which it was done.")
                % {"day": day_words(day)}
            )
        return day

    def answers(self) -> dict[str, Any]:
        return self.cleaned_data if self.is_bound and self.is_valid() else {}
