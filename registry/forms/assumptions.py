"""Setting one assumption of the corrosion model for one system, with the reason."""

from dataclasses import dataclass
from typing import cast

from django import forms
from django.utils.translation import gettext_lazy as _

from registry.assess import Book, overrides_of
from registry.assess.cases import editable_assumptions
from registry.atmosphere import LedgerItem


@dataclass(frozen=True)
class AssumptionRow:
    """An editable assumption as it holds for one system; `record` set it, if any did."""

    key: str
    unit: str
    default: float
    value: float
    least: float
    most: float
    note: str
    record: LedgerItem | None


def assumption_rows(book: Book) -> list[AssumptionRow]:
    given = overrides_of(book)
    return [
        AssumptionRow(
            key=item.key,
            unit=item.unit,
            default=item.value,
            value=given[item.key].details["value"] if item.key in given else item.value,
            least=item.least,
            most=item.most,
            note=item.note or item.source,
            record=given.get(item.key),
        )
        for item in editable_assumptions()
    ]


class AssumptionForm(forms.Form):
    key = forms.ChoiceField(label=_("Assumption"))
    value = forms.FloatField(
        required=False,
        label=_("Value for this system"),
        help_text=_("In the unit of the table. Leave empty to go back to the model's own."),
    )
    note = forms.CharField(
        label=_("Why"), max_length=500, widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_("What was measured or seen, and by whom. The ledger keeps it."),
    )  # fmt: skip

    def __init__(self, data=None, *, rows: list[AssumptionRow], initial=None):
        super().__init__(data, initial=initial)
        self.rows = {row.key: row for row in rows}
        key = cast(forms.ChoiceField, self.fields["key"])
        key.choices = [(row.key, f"{row.key.replace('_', ' ')}, {row.unit}") for row in rows]
