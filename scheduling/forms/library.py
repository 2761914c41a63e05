"""Forms about the library, the edition a site has adopted and what is known of a system."""

from typing import Any, cast

from django import forms
from django.utils.translation import gettext, gettext_lazy
from django.utils.translation import gettext_lazy as _

from registry.forms.days import DayInput
from registry.models import System
from registry.words.told.retelling import retold, retold_later
from scheduling import library
from scheduling.library.types import SYSTEM_KINDS
from scheduling.models import OwnItem, SiteWinter, SprinklerArea
from scheduling.recurrence import Anchor, Interval, parse_interval

ANCHORS = (
    (Anchor.COMPLETION.value, _("From the day it was last done")),
    (Anchor.CALENDAR.value, _("On fixed days, whenever it is done")),
)
YES_NO = (("yes", _("Yes")), ("no", _("No")), ("", _("Not known")))
FOR_ALL = "for_all"
LONGEST = Interval(100, "year")
KIND_WORDS = dict(System.Kind.choices)


class IntervalField(forms.CharField):
    """Cleans to the text of an interval, `3 months`."""

    def __init__(self, **kwargs: Any):
        super().__init__(max_length=20, **kwargs)
        self.widget.attrs["placeholder"] = gettext_lazy("for example 3 months or 5 years")

    def to_python(self, value: Any) -> str:
        text = super().to_python(value) or ""
        if not text:
            return ""
        try:
            interval = parse_interval(text)
        except ValueError as error:
            raise forms.ValidationError(str(error), code="interval") from None
        if interval.mean_days > LONGEST.mean_days:
            raise forms.ValidationError(
                gettext("It must be at most {text}.").format(text=LONGEST.text), code="max"
            )
        return interval.text


class ItemForm(forms.ModelForm):
    """A row of the library as an owner keeps it."""

    system_kinds = forms.MultipleChoiceField(
        label=_("Kinds of system"),
        choices=[(kind, KIND_WORDS[kind]) for kind in SYSTEM_KINDS],
        widget=forms.CheckboxSelectMultiple,
    )
    interval = IntervalField(label=_("Every"), required=False)
    trigger = forms.CharField(
        label=_("Or when"), max_length=120, required=False,
        help_text=_("For work without an interval, for example “after each operation”."),
    )  # fmt: skip
    before = IntervalField(
        label=_("Window before the due day"), required=False,
        help_text=_("From then on it can be done on time."),
    )  # fmt: skip
    after = IntervalField(
        label=_("Window after the due day"), required=False,
        help_text=_("Until then it is still on time. Only where the adopted edition allows "
"it."),
    )  # fmt: skip
    anchor = forms.ChoiceField(label=_("Counted"), choices=ANCHORS, widget=forms.RadioSelect)
    season = forms.ChoiceField(
        label=_("Season"),
        choices=[
            ("", _("Any time of the year")),
            *((code, retold_later(name)) for code, name in library.SEASONS.items()),
        ],
        required=False,
    )
    condition = forms.ChoiceField(
        label=_("Only when the answer is yes to"),
        choices=[
            ("", _("Always")),
            *((one.key, retold_later(one.question)) for one in library.CONDITIONS.values()),
        ],
        required=False,
    )
    standard = forms.ChoiceField(
        required=False, help_text=_("Without a standard the row holds beside every edition.")
    )
    how_known = forms.ChoiceField(
        label=_("How it is known"), choices=[(one, retold_later(one)) for one in library.HOW_KNOWN]
    )

    class Meta:
        model = OwnItem
        fields = [
            "title", "group", "system_kinds", "interval", "trigger", "before", "after", "anchor",
            "season", "condition", "standard", "edition_from", "edition_to", "clause", "source",
            "how_known", "note", "is_used",
        ]  # fmt: skip
        labels = {
            "group": _("Group"),
            "edition_from": _("From edition"),
            "edition_to": _("To edition"),
            "is_used": _("Ask for it at our sites"),
        }
        help_texts = {
            "edition_from": _("The year. Leave empty when it holds in all earlier ones."),
            "edition_to": _("The year. Leave empty while it holds."),
            "source": _("Where this comes from, in your own words."),
        }
        widgets = {
            "source": forms.Textarea(attrs={"rows": 3}),
            "note": forms.Textarea(attrs={"rows": 3}),
        }

    def __init__(self, data=None, *, initial=None):
        super().__init__(data, initial=initial)
        cast(forms.ChoiceField, self.fields["group"]).choices = [
            (code, retold(name)) for code, name in library.GROUPS.items()
        ]
        standards = dict.fromkeys(one.standard for one in library.editions().values())
        cast(forms.ChoiceField, self.fields["standard"]).choices = [
            ("", gettext("None: good practice"))
        ] + [(one, one) for one in standards]

    def _post_clean(self) -> None:
        """The service validates the row as a whole, with its key and its owner."""

    def clean_before(self) -> str:
        return self.cleaned_data["before"] or "0 days"

    def clean_after(self) -> str:
        return self.cleaned_data["after"] or "0 days"

    def clean(self) -> dict[str, Any]:
        cells = self.cleaned_data
        self._check_interval(cells)
        first, last = cells.get("edition_from"), cells.get("edition_to")
        if first and last and last < first:
            self.add_error(
                "edition_to", gettext("It begins with {first}, which is later.").format(first=first)
            )
        if cells.get("season") and cells.get("anchor") == Anchor.COMPLETION.value:
            self.add_error("anchor", gettext("Seasonal work is due on fixed days."))
        return cells

    def _check_interval(self, cells: dict[str, Any]) -> None:
        interval, trigger = cells.get("interval"), cells.get("trigger")
        if "interval" in self.errors:
            return
        if bool(interval) == bool(trigger):
            self.add_error("interval", gettext("Write either how often it is done, or when."))
        elif interval and "before" in cells and "after" in cells:
            self._check_windows(parse_interval(interval), cells)

    def _check_windows(self, interval: Interval, cells: dict[str, Any]) -> None:
        if cells.get("season") and interval.unit != "year":
            self.add_error("interval", gettext("Seasonal work recurs after whole years."))
            return
        for name in ("before", "after"):
            if parse_interval(cells[name]).mean_days >= interval.mean_days:
                self.add_error(
                    name,
                    gettext("It must be shorter than the interval, {text}.").format(
                        text=interval.text
                    ),
                )
        if interval.count < 1:
            self.add_error("interval", gettext("It must be at least 1."))

    def cells(self) -> dict[str, Any]:
        return {**self.cleaned_data, "system_kinds": " ".join(self.cleaned_data["system_kinds"])}


def initial_of(item: library.LibraryItem | OwnItem) -> dict[str, Any]:
    """What the form shows first for a row of the seed or of an owner."""
    if isinstance(item, OwnItem):
        return initial_of(item.item()) | {"is_used": item.is_used}
    cells = {name: getattr(item, name) for name in ItemForm.Meta.fields if hasattr(item, name)}
    return cells | {
        "system_kinds": list(item.system_kinds),
        "interval": item.interval.text if item.interval else "",
        "before": item.before.text,
        "after": item.after.text,
        "anchor": item.anchor.value,
        "is_used": True,
    }


class LibraryFilter(forms.Form):
    """Narrows the list of rows; an answer it does not know narrows nothing."""

    standard = forms.ChoiceField(required=False)
    kind = forms.ChoiceField(
        label=_("Kind of system"), required=False, choices=[("", _("All")), *System.Kind.choices]
    )

    def __init__(self, *args: Any, **kwargs: Any):
        super().__init__(*args, **kwargs)
        standards = dict.fromkeys(one.standard for one in library.editions().values())
        cast(forms.ChoiceField, self.fields["standard"]).choices = [
            ("", gettext("All")),
            *((one, one) for one in standards),
        ]

    def keeps(self, item: library.LibraryItem) -> bool:
        self.is_valid()
        standard, kind = (self.cleaned_data.get(name) for name in ("standard", "kind"))
        fits = not standard or item.standard in ("", standard)
        return fits and (not kind or kind in item.system_kinds)


class EditionForm(forms.Form):
    edition = forms.ChoiceField(
        label=_("Edition"),
        help_text=_("Of one standard one edition holds at a time; another takes its place."),
    )

    def __init__(self, data=None):
        super().__init__(data)
        standards: dict[str, list[tuple[str, str]]] = {}
        for one in library.editions().values():
            standards.setdefault(one.standard, []).append((one.key, one.title))
        cast(forms.ChoiceField, self.fields["edition"]).choices = [
            ("", gettext("Choose")),
            *standards.items(),
        ]


class WinterForm(forms.ModelForm):
    class Meta:
        model = SiteWinter
        fields = ["has_frost", "ready_by", "over_from"]
        help_texts = {
            "has_frost": _("Where it never freezes, nothing is asked for before winter."),
            "ready_by": _("Month and day, for example 10-31."),
            "over_from": _("Month and day, for example 04-15."),
        }


class AnswersForm(forms.Form):
    """The questions on which the choice of rows for a system depends."""

    def __init__(self, data=None, *, questions, answers: dict[str, bool], shown: dict[str, bool]):
        super().__init__(data)
        for key in questions:
            known = shown.get(key)
            says = (
                ""
                if known is None
                else gettext("The register says {no}.").format(no="yes" if known else "no")
            )
            self.fields[key] = forms.ChoiceField(
                label=retold(library.CONDITIONS[key].question),
                choices=YES_NO,
                widget=forms.RadioSelect,
                required=False,
                help_text=says,
                initial={True: "yes", False: "no", None: ""}[answers.get(key)],
            )
        self.fields[FOR_ALL] = forms.BooleanField(
            label=gettext("The same for every system of this kind at the site"), required=False
        )

    def facts(self) -> dict[str, Any]:
        given = dict(self.cleaned_data)
        is_for_all = given.pop(FOR_ALL)
        answers = {key: {"yes": True, "no": False}.get(value) for key, value in given.items()}
        return {"answers": answers, "is_for_all_alike": is_for_all}


class LastDoneForm(forms.Form):
    last_done_on = forms.DateField(
        label=_("Last done"),
        widget=DayInput(),
        required=False,
        help_text=_("Before this book was kept. Leave empty when nobody knows."),
    )


class SprinklerAreaForm(forms.ModelForm):
    class Meta:
        model = SprinklerArea
        fields = [
            "label", "sprinkler_type", "environment", "count", "installed_on", "last_tested_on",
            "is_removed",
        ]  # fmt: skip
        widgets = {
            "installed_on": DayInput(),
            "last_tested_on": DayInput(),
            "sprinkler_type": forms.RadioSelect,
            "environment": forms.RadioSelect,
        }
        help_texts = {
            "label": _("Sprinklers of one type, age and environment, for example “Cold store”."),
            "last_tested_on": _("Before this book was kept. Leave empty when none was."),
        }

    def __init__(self, data=None, *, instance: SprinklerArea):
        super().__init__(data, instance=instance)
        cast(forms.ChoiceField, self.fields["sprinkler_type"]).choices = SprinklerArea.Type.choices
        cast(
            forms.ChoiceField, self.fields["environment"]
        ).choices = SprinklerArea.Environment.choices
        if instance.pk is None:
            del self.fields["is_removed"]

    def _post_clean(self) -> None:
        """Write onto the row; the service validates it."""
        for name, value in self.cleaned_data.items():
            setattr(self.instance, name, value)
