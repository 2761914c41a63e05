"""What would help: measures to try together, in the address, so that an answer can be linked to."""

from typing import cast

from django import forms
from django.utils.translation import gettext_lazy as _

from registry.assess.what_if import Measures, WhatIfOutcome, outcome
from registry.fields import QuantityField
from registry.forms.units_and_errors import speak
from registry.models import User
from reports.risk.page import RiskPage


class WhatIfForm(forms.Form):
    is_inerted = forms.BooleanField(required=False, label=_("Make it inert now and keep it so"))
    has_vents = forms.BooleanField(required=False, label=_("Add air vents at the high points"))
    is_drained = forms.BooleanField(
        required=False, label=_("Drain and pitch the pipe: no standing water")
    )
    supply_n2_percent = QuantityField(
        dimension="percent", minimum=79.05, maximum=100.0, required=False,
        label=_("Nitrogen of the make-up gas"),
    )  # fmt: skip
    new_runs = forms.MultipleChoiceField(
        required=False, label=_("Replace today"), widget=forms.CheckboxSelectMultiple
    )

    def __init__(self, data=None, *, page: RiskPage, user: User):
        super().__init__(data)
        self.page = page
        covered = [row for row in page.runs if row.in_model]
        new_runs = cast(forms.MultipleChoiceField, self.fields["new_runs"])
        new_runs.choices = [(row.run.pk, row.label) for row in covered]
        for name in _unfit(page):
            del self.fields[name]
        speak(self, user)

    def measures(self) -> Measures:
        given = dict(self.cleaned_data)
        runs = [run.pk for run in self.page.case.book.runs]
        chosen = tuple(runs.index(int(pk)) for pk in given.pop("new_runs"))
        return Measures(new_runs=chosen, **given)

    def outcome(self) -> WhatIfOutcome:
        return outcome(self.page.detail, self.measures())


def _unfit(page: RiskPage) -> tuple[str, ...]:
    """Measures that nobody could take on a system of this kind."""
    if page.case.input.is_open:
        return "is_inerted", "has_vents", "supply_n2_percent"
    return ("has_vents",) if page.case.input.has_pools else ("is_drained", "supply_n2_percent")
