from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from registry.forms.days import DayInput
from registry.kinds import KINDS
from registry.models import AuditAccess, Organisation, Site, System
from reports.proof.compare import LARGEST
from reports.proof.limits import Limits

UTC = "UTC"


class PackageForm(forms.Form):
    """What a package shall hold; all of the owner's book where nothing is chosen."""

    sites = forms.MultipleChoiceField(
        label=_("Sites"),
        required=False,
        help_text=_("None chosen: all of them."),
        widget=forms.SelectMultiple(attrs={"size": 6}),
    )
    systems = forms.CharField(
        label=_("Systems"),
        required=False,
        help_text=_("Their tags, with commas between. Empty: all systems of those sites."),
    )
    since = forms.DateField(
        label=_("Happened from"),
        required=False,
        widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}),
    )
    until = forms.DateField(
        label=_("Happened up to and with"),
        required=False,
        widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}),
        help_text=_(
            "Days count by the clock of the site; where the sites have more than one, by UTC."
        ),
    )
    kinds = forms.MultipleChoiceField(
        label=_("Kinds of record"),
        required=False,
        choices=sorted(((code, kind.label) for code, kind in KINDS.items()), key=lambda c: c[0]),
        help_text=_("None chosen: all of them."),
        widget=forms.SelectMultiple(attrs={"size": 8}),
    )

    def __init__(self, *args, owner: Organisation, limits: Limits | None = None, **kwargs):
        super().__init__(*args, **kwargs)
        self.owner, self.limits = owner, limits
        names = list(owner.sites.order_by("name").values_list("name", flat=True))
        if limits and limits.sites is not None:
            names = [name for name in names if name in limits.sites]
            self.fields["sites"].help_text = _("None chosen: all that you may read.")
        self.fields["sites"].choices = [(name, name) for name in names]

    def clean_systems(self) -> list[str]:
        asked = [tag.strip() for tag in self.cleaned_data["systems"].split(",") if tag.strip()]
        systems = System.objects.filter(site__owner=self.owner, tag__in=asked)
        if self.limits and self.limits.sites is not None:
            systems = systems.filter(site__name__in=self.limits.sites)
        if sites := self.cleaned_data.get("sites"):
            systems = systems.filter(site__name__in=sites)
        known = set(systems.values_list("tag", flat=True))
        if missing := [tag for tag in asked if tag not in known]:
            raise forms.ValidationError(
                gettext(
                    "No system has the tag {missing} there. A tag is written as on the page of the "
                    "system, for example {example}."
                ).format(missing=missing[0], example=self._an_example())
            )
        return asked

    def _an_example(self) -> str:
        first = System.objects.filter(site__owner=self.owner).order_by("tag").first()
        return first.tag if first else "NQ-101"

    def clean(self) -> dict[str, Any]:
        answers = super().clean() or {}
        _check_order(self, answers)
        return answers

    def chosen(self) -> dict[str, Any]:
        answers = self.cleaned_data
        until = answers["until"]
        chosen = {
            "sites": answers["sites"],
            "systems": answers["systems"],
            "kinds": answers["kinds"],
            "since": self._begin(answers["since"]) if answers["since"] else None,
            "until": self._begin(until + timedelta(days=1)) if until else None,
        }
        return self.limits.narrow(chosen) if self.limits else chosen

    def _begin(self, day: date) -> datetime:
        sites = Site.objects.filter(owner=self.owner)
        if chosen := self.cleaned_data["sites"]:
            sites = sites.filter(name__in=chosen)
        zones = set(sites.order_by().values_list("time_zone", flat=True))
        return datetime.combine(day, time.min, ZoneInfo(zones.pop() if len(zones) == 1 else UTC))


class ShareForm(forms.Form):
    label = forms.CharField(
        label=_("For whom"), max_length=80, help_text=_("Only you and your colleagues see this.")
    )
    days = forms.TypedChoiceField(
        label=_("It works for"),
        coerce=int,
        choices=[(1, _("a day")), (3, _("3 days")), (7, _("a week")), (14, _("14 days"))],
        initial=7,
        help_text=_("And no longer than the file is kept."),
    )


class AuditAccessForm(forms.Form):
    """Until when, of which sites and of which time an auditor reads the book."""

    ends_on = forms.DateField(
        label=_("Last day"),
        required=False,
        widget=DayInput(),
        help_text=_("It ends with that day, by UTC. Empty: until you take it away."),
    )
    sites = forms.ModelMultipleChoiceField(
        label=_("Sites"),
        queryset=Site.objects.none(),
        required=False,
        help_text=_("None chosen: all of them, those to come as well."),
        widget=forms.SelectMultiple(attrs={"size": 6}),
    )
    since = forms.DateField(
        label=_("Records of what happened from"),
        required=False,
        widget=DayInput(),
    )
    until = forms.DateField(
        label=_("Up to and with"),
        required=False,
        widget=DayInput(),
        help_text=_(
            "By the clock of most of your sites. It holds for the ledger, records, their files and "
            "packages; the state of a system, its runs and its schedule are always those of today."
        ),
    )

    def __init__(self, *args, access: AuditAccess, **kwargs):
        self.zone = ZoneInfo(access.owner.usual_time_zone)
        kwargs.setdefault("initial", self._now(access))
        super().__init__(*args, **kwargs)
        self.fields["sites"].queryset = access.owner.sites.order_by("name")

    def _now(self, access: AuditAccess) -> dict[str, Any]:
        since, before = access.happened_from, access.happened_before
        last = before.astimezone(self.zone) - timedelta(days=1) if before else None
        return {
            "ends_on": access.ends_on,
            "sites": [] if access.has_all_sites else list(access.sites.all()),
            "since": since.astimezone(self.zone).date() if since else None,
            "until": last.date() if last else None,
        }

    def clean(self) -> dict[str, Any]:
        answers = super().clean() or {}
        _check_order(self, answers)
        return answers

    def facts(self) -> dict[str, Any]:
        answers = self.cleaned_data
        since, until = answers["since"], answers["until"]
        return {
            "ends_on": answers["ends_on"],
            "sites": list(answers["sites"]),
            "happened_from": self._begin(since) if since else None,
            "happened_before": self._begin(until + timedelta(days=1)) if until else None,
        }

    def _begin(self, day: date) -> datetime:
        return datetime.combine(day, time.min, self.zone)


class DemandedForm(forms.Form):
    site = forms.ModelChoiceField(
        label=_("Site"), queryset=Site.objects.none(), empty_label=_("Choose a site")
    )
    since = forms.DateField(label=_("Due from"), required=False, widget=DayInput())
    until = forms.DateField(label=_("Due up to and with"), required=False, widget=DayInput())
    only_gaps = forms.BooleanField(label=_("Only what was not done"), required=False)

    def __init__(self, *args, sites: QuerySet[Site], **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["site"].queryset = sites

    def clean(self) -> dict[str, Any]:
        answers = super().clean() or {}
        _check_order(self, answers)
        return answers


class CompareForm(forms.Form):
    file = forms.FileField(
        label=_("A file that you kept"),
        help_text=_(
            "A checkpoint, as “log/checkpoint” in a package; the proof of a certificate; or a list "
            "of heads, as the weekly digest carries it."
        ),
    )

    def clean_file(self):
        file = self.cleaned_data["file"]
        if file.size > LARGEST:
            raise forms.ValidationError(
                gettext("The file is larger than 20 MB, and neither of the two is.")
            )
        return file


def _check_order(form: forms.Form, answers: dict[str, Any]) -> None:
    since, until = answers.get("since"), answers.get("until")
    if since and until and until < since:
        form.add_error(
            "until",
            gettext("This day is before the first; give {since} or a later one.").format(
                since=since.isoformat()
            ),
        )
