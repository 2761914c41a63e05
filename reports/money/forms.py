"""What an owner says leaks and work cost; an empty answer is assumed, and said to be."""

from typing import Any, Final

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from registry.models import Organisation, OwnerPrices, PipeRun, User
from registry.money import ASSUMED_LEAK, ASSUMED_VISIT, assumed_per_m, money_text
from registry.quantities import size_text

M_PER_FT: Final = 0.3048
MOST_PER_M = 100_000
USUAL_SIZES = ("1", "1-1/4", "1-1/2", "2", "2-1/2", "3", "4", "6", "8")


class PricesForm(forms.ModelForm):
    class Meta:
        model = OwnerPrices
        fields = ["currency", "leak_incident", "reinerting_visit"]
        widgets = {"currency": forms.TextInput(attrs={"autocomplete": "off"})}

    def __init__(self, data: Any = None, *, owner: Organisation, user: User):
        instance = OwnerPrices.objects.filter(owner=owner).first()
        super().__init__(data, instance=instance)
        self.per_m = 1.0 if user.display_units == "si" else M_PER_FT
        assumed = {"leak_incident": ASSUMED_LEAK, "reinerting_visit": ASSUMED_VISIT}
        for name, amount in assumed.items():
            self.fields[name].help_text = gettext(
                "%(what)s Empty: %(amount)s is assumed, in whatever your currency is."
            ) % {"what": self.fields[name].help_text, "amount": money_text(amount)}
        self.sizes = _sizes(owner)
        own = instance.replacement_per_m if instance else {}
        for at, size in enumerate(self.sizes):
            self.fields[f"size_{at}"] = self._size_field(size, user, own.get(size))

    def _size_field(self, size: str, user: User, own: float | None) -> forms.Field:
        words = _("Replacing a metre of %(size)s") if user.display_units == "si" else _(
            "Replacing a foot of %(size)s"
        )  # fmt: skip
        assumed = money_text(assumed_per_m(size) * self.per_m)
        return forms.FloatField(
            label=words % {"size": size_text(size, user.display_units)},
            required=False, min_value=0, max_value=MOST_PER_M,
            initial=None if own is None else round(own * self.per_m, 2),
            help_text=gettext("Empty: %(amount)s is assumed.") % {"amount": assumed},
        )  # fmt: skip

    def facts(self) -> dict[str, Any]:
        answers = self.cleaned_data
        per_m = {
            size: answers[f"size_{at}"] / self.per_m
            for at, size in enumerate(self.sizes)
            if answers.get(f"size_{at}") is not None
        }
        named = ("currency", "leak_incident", "reinerting_visit")
        return {name: answers[name] for name in named} | {"replacement_per_m": per_m}


def _sizes(owner: Organisation) -> list[str]:
    """Those of the owner's own pipe, and the usual ones while there is none."""
    runs = PipeRun.objects.current().filter(system__site__owner=owner).order_by()
    found = runs.values_list("nominal_size", flat=True).distinct()
    return sorted(found, key=assumed_per_m) or list(USUAL_SIZES)
