"""Forms at the work itself: done, skipped, taken back, and protection out of service."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any, cast
from uuid import uuid4

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from registry.forms.records import RecordForm
from registry.kinds.events import IMPAIRMENT_END, IMPAIRMENT_START
from registry.kinds.inspections import INSPECTION_COMPLETED
from registry.models import Site, System, User
from registry.protection.types import ALL
from scheduling.follow_ups.impairments import Impairment
from scheduling.models import Occurrence
from scheduling.recurring.readings import fields_of

FINDINGS = ("found", "impairments", "critical", "noncritical")
FINDING_HELP = {
    "impairments": _("Protection is out of service or would not work."),
    "critical": _("Not out of service, but it could keep the system from doing its work."),
    "noncritical": _("Does not touch how the system works."),
}
PARTIES = (
    _("Authority having jurisdiction"),
    _("Fire department"),
    _("Insurer"),
    _("Monitoring company"),
    _("Owner or manager"),
    _("People in the building"),
)


class CompleteForm(RecordForm):
    """The findings and just the readings that the item asks for."""

    def __init__(self, data=None, files=None, *, occurrence: Occurrence, user: User):
        names = (*FINDINGS, *fields_of(occurrence.item.key))
        shown = tuple(field for name in names if (field := INSPECTION_COMPLETED.field(name)))
        system = occurrence.system
        super().__init__(
            data, files, kind=replace(INSPECTION_COMPLETED, fields=shown), system=system, user=user
        )
        self.fields["occurred_at"].label = gettext("When it was done")
        for name, help_text in FINDING_HELP.items():
            self.fields[name].widget = forms.Textarea(attrs={"rows": 2})
            self.fields[name].help_text = help_text

    def facts(self) -> dict[str, Any]:
        names = ("occurred_at", "details", "note", "client_key", "files")
        return {name: super(CompleteForm, self).facts()[name] for name in names}


class SkipForm(forms.Form):
    client_key = forms.UUIDField(required=False, widget=forms.HiddenInput)
    reason = forms.CharField(
        label=_("Why it is skipped"), max_length=500, widget=forms.Textarea(attrs={"rows": 3})
    )

    def __init__(self, data=None):
        super().__init__(data, initial={"client_key": uuid4()})


class DueFilter(forms.Form):
    """Narrows the list of recurring work; an answer it does not know narrows nothing."""

    WHEN = (
        ("", _("To do now")),
        ("late", _("Late")),
        ("ahead", _("Within 90 days")),
        ("all", _("All open")),
    )

    site = forms.ModelChoiceField(Site.objects.none(), required=False, empty_label=_("All sites"))
    when = forms.ChoiceField(label=_("Show"), choices=WHEN, required=False)

    def __init__(self, *args: Any, user: User, **kwargs: Any):
        super().__init__(*args, **kwargs)
        sites = cast(forms.ModelChoiceField, self.fields["site"])
        sites.queryset = Site.objects.visible_to(user)

    def answers(self) -> tuple[Site | None, str]:
        self.is_valid()
        return self.cleaned_data.get("site"), self.cleaned_data.get("when") or ""


class ImpairmentStartForm(RecordForm):
    """The beginning of an impairment, with those who were told ticked off."""

    def __init__(self, data=None, files=None, *, system: System, user: User):
        super().__init__(data, files, kind=IMPAIRMENT_START, system=system, user=user)
        self.fields["occurred_at"].label = gettext("Out of service since")
        self.fields["told"] = forms.MultipleChoiceField(
            label=gettext("Who was told"),
            choices=[(party, party) for party in PARTIES],
            widget=forms.CheckboxSelectMultiple,
            required=False,
            help_text=gettext(
                "The impairment procedure of the site and the adopted edition say who must."
            ),
        )

    def _answer(self, name: str) -> Any:
        answer = super()._answer(name)
        return "; ".join(answer) if name == "told" else answer


class ImpairmentEndForm(RecordForm):
    """The facts of restoration, and which impairment they end: with one open there is no question,
    with several there is no answer given beforehand."""

    def __init__(
        self,
        data=None,
        files=None,
        *,
        system: System,
        user: User,
        open: Sequence[Impairment] = (),
    ):
        super().__init__(data, files, kind=IMPAIRMENT_END, system=system, user=user)
        self.fields["occurred_at"].label = gettext("Restored at")
        if len(open) < 2:
            del self.fields["ends"]
            return
        self.fields["ends"] = forms.ChoiceField(
            label=gettext("Which impairment has ended"),
            choices=[
                *((str(row.start.sequence), self._words(row)) for row in open),
                (ALL, gettext("All of them: every tag is off")),
            ],
            widget=forms.RadioSelect,
            help_text=gettext("One impairment, one tag, one end."),
        )

    def _answer(self, name: str) -> Any:
        return super()._answer(name) if name in self.fields else None

    def _words(self, row: Impairment) -> str:
        return gettext("{areas}: {reason} Record {sequence}.").format(
            areas=row.areas, reason=row.said.reason, sequence=row.start.sequence
        )
