"""Filters of the portfolio and of the audit ledger; each starts from what the person may see."""

import django_filters as filters
from django import forms
from django.db.models import Exists, OuterRef, Q
from django.utils.translation import gettext_lazy as _

from registry.forms.days import DayInput
from registry.kinds import KINDS
from registry.models import Assessment, AtmosphereSpan, ProtectionSpan, Record, Site, System, User
from reports.ledger import page as ledger_page
from scheduling.lateness.querysets import has_late_work
from scheduling.models import Occurrence, Task

MOST_WORDS = 12  # each is one more condition of the query, and a database has a limit to them
GROUPS = {
    "event": _("Events"),
    "request": _("Requests"),
    "reading": _("Readings"),
    "inerting": _("Inerting"),
    "inspection": _("Inspections"),
    "register": _("Register"),
}
FOLLOW_UPS = (
    ("open", _("Some work is open")),
    ("late", _("Some work is late")),
    ("escalated", _("Some is escalated")),
    ("refused", _("Some is declined, or cannot be done")),
    ("none", _("No work is open")),
)


def visible_sites(request):
    return Site.objects.visible_to(request.user) if request else Site.objects.none()


class PortfolioFilter(filters.FilterSet):
    text = filters.CharFilter(
        label=_("Tag, site or building"),
        method="filter_text",
        widget=forms.TextInput(attrs={"type": "search", "autocomplete": "off"}),
    )
    site = filters.ModelChoiceFilter(  # kept, not offered: thousands of them fill no select
        queryset=visible_sites, label=_("Site"), widget=forms.HiddenInput
    )
    kind = filters.ChoiceFilter(
        choices=System.Kind.choices, label=_("Kind"), empty_label=_("All kinds")
    )
    state = filters.ChoiceFilter(
        choices=AtmosphereSpan.State.choices,
        label=_("Atmosphere"),
        method="filter_state",
        empty_label=_("Any state"),
    )
    protection = filters.ChoiceFilter(
        choices=ProtectionSpan.State.choices,
        label=_("Protection"),
        method="filter_protection",
        empty_label=_("Any protection"),
    )
    band = filters.ChoiceFilter(
        choices=Assessment.Band.choices,
        label=_("Score band"),
        method="filter_band",
        empty_label=_("Any band"),
    )
    follow_ups = filters.ChoiceFilter(
        choices=FOLLOW_UPS,
        label=_("Work"),
        method="filter_follow_ups",
        empty_label=_("With or without"),
    )

    class Meta:
        model = System
        fields: list[str] = []

    def filter_text(self, queryset, name, value):
        for word in list(dict.fromkeys(value.split()))[:MOST_WORDS]:
            queryset = queryset.filter(
                Q(tag__icontains=word)
                | Q(site__name__icontains=word)
                | Q(building__name__icontains=word)
            )
        return queryset

    def filter_state(self, queryset, name, value):
        return queryset.with_atmosphere(self.now).filter(atmosphere_state=value)

    def filter_protection(self, queryset, name, value):
        return queryset.with_protection().filter(protection_state=value)

    def filter_band(self, queryset, name, value):
        latest = Assessment.objects.latest().filter(system=OuterRef("pk"), band=value)
        return queryset.filter(Exists(latest))

    def filter_follow_ups(self, queryset, name, value):
        tasks = Task.objects.open()
        if value == "late":
            return queryset.filter(has_late_work(self.now))
        if value in ("open", "none"):
            planned = Exists(Occurrence.objects.open().filter(system=OuterRef("pk")))
            some = Q(Exists(tasks.filter(system=OuterRef("pk")))) | Q(planned)
            return queryset.filter(~some if value == "none" else some)
        if value == "escalated":
            tasks = tasks.filter(escalations__isnull=False)
        elif value == "refused":
            tasks = tasks.refused()
        return queryset.filter(Exists(tasks.filter(system=OuterRef("pk"))))

    def __init__(self, *args, now, **kwargs):
        self.now = now
        super().__init__(*args, **kwargs)


def kind_choices():
    grouped: dict[str, list] = {}
    for kind in KINDS.values():
        grouped.setdefault(GROUPS[kind.group], []).append((kind.code, kind.label))
    return list(grouped.items())


def visible_writers(request):
    """Those who wrote what the person may read."""
    if request is None:
        return User.objects.none()
    written = Record.objects.visible_to(request.user).filter(recorded_by=OuterRef("pk"))
    return User.objects.filter(Exists(written)).order_by("name")


class LedgerFilter(filters.FilterSet):
    """Of the records of one system."""

    kind = filters.ChoiceFilter(choices=kind_choices, label=_("Kind"), empty_label=_("All kinds"))
    first = filters.DateFilter(label=_("Happened from"), method="begin_with", widget=DayInput())
    last = filters.DateFilter(label=_("Happened to"), method="end_with", widget=DayInput())
    as_of = filters.DateFilter(
        label=_("As known at the end of"), method="as_the_book_was", widget=DayInput()
    )
    show = filters.ChoiceFilter(
        choices=[(ledger_page.COUNTING, "Only what counts")],
        label=_("Show"),
        method="only_counting",
        empty_label=_("Every record"),
    )

    @property
    def as_of_day(self):
        is_read = self.is_bound and self.form.is_valid()
        return self.form.cleaned_data.get("as_of") if is_read else None

    @property
    def is_backwards(self) -> bool:
        """Whether the days asked for leave no time between them."""
        answers = self.form.cleaned_data if self.is_bound and self.form.is_valid() else {}
        first, last = answers.get("first"), answers.get("last")
        return bool(first and last and first > last)

    def begin_with(self, queryset, name, value):
        return ledger_page.happened_from(queryset, value)

    def end_with(self, queryset, name, value):
        return ledger_page.happened_to(queryset, value)

    def as_the_book_was(self, queryset, name, value):
        return ledger_page.known_on(queryset, value)

    def only_counting(self, queryset, name, value):
        return ledger_page.counting(queryset, self.form.cleaned_data.get("as_of"))


class WhereAndWho(filters.FilterSet):
    site = filters.ModelChoiceFilter(
        queryset=visible_sites,
        field_name="system__site",
        label=_("Site"),
        empty_label=_("All sites"),
    )
    tag = filters.CharFilter(
        field_name="system__tag",
        lookup_expr="icontains",
        label=_("System"),
        widget=forms.TextInput(attrs={"type": "search", "autocomplete": "off"}),
    )
    person = filters.ModelChoiceFilter(
        queryset=visible_writers,
        field_name="recorded_by",
        label=_("Recorded by"),
        empty_label=_("Anybody"),
    )


class AuditFilter(WhereAndWho, LedgerFilter):
    """Of all records a person may read."""
