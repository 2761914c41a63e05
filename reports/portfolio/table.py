"""The portfolio as a table: sorted and paged by the database, worded here."""

from datetime import datetime, timedelta

import django_tables2 as tables
from django.db.models import F
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.timesince import timesince
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from registry.atmosphere_rows.spans import percent_text
from registry.models import ProtectionSpan, System, User
from registry.models.assessments import is_worth_telling
from registry.templatetags.risk import depth_html, life, life_band, score_chip, signed
from registry.templatetags.strip import state, strip
from registry.templatetags.units import quantity_html
from reports.portfolio.ordering import by_oxygen
from reports.portfolio.page import Listed, PortfolioRow
from reports.risk.shares import channels_of

NUMBER = {"th": {"class": "number"}, "td": {"class": "number nowrap"}}
NUMBER_AT_WIDE = {
    "th": {"class": "number at-wide"},
    "td": {"class": "number nowrap at-desk at-wide"},
}
NOWRAP = {"td": {"class": "nowrap"}}
NOWRAP_AT_WIDE = {"th": {"class": "at-wide"}, "td": {"class": "nowrap at-wide"}}
LAST_AT_WIDE = {"th": {"class": "at-wide"}, "td": {"class": "nowrap at-desk at-wide"}}
STATE_ORDER = ("atmosphere_state", "site__name", "tag")


class PortfolioTable(tables.Table):
    tag = tables.Column(verbose_name=_("System"), attrs=NOWRAP)
    place = tables.Column(
        verbose_name=_("Place"),
        accessor="site__name",
        order_by=("site__name", "building__name", "tag"),
    )
    kind = tables.Column(verbose_name=_("Kind"), attrs=NOWRAP_AT_WIDE)
    atmosphere = tables.Column(
        verbose_name=_("Atmosphere"),
        accessor="atmosphere_state",
        empty_values=(),
        order_by=STATE_ORDER,
        attrs=NOWRAP,
    )
    protection = tables.Column(
        verbose_name=_("Protection"),
        accessor="protection_state",
        empty_values=(),
        order_by=("protection_order", "protection_since", "tag"),
        attrs=NOWRAP,
    )
    strip = tables.Column(
        verbose_name=_("Last two years"), accessor="pk", orderable=False, empty_values=()
    )
    score = tables.Column(verbose_name=_("Score"), empty_values=(), attrs=NOWRAP)
    life = tables.Column(
        verbose_name=_("Life left"), accessor="life_mid_yr", empty_values=(), attrs=NUMBER
    )
    delay = tables.Column(
        verbose_name=_("Cost of waiting a week"),
        accessor="delay_points",
        empty_values=(),
        attrs=NUMBER | {"th": {"class": "number wraps"}},
    )
    oxygen = tables.Column(
        verbose_name=_("Oxygen"),
        accessor="atmosphere_oxygen",
        attrs=NUMBER_AT_WIDE,
        empty_values=(),
    )
    volume = tables.Column(verbose_name=_("Volume"), accessor="volume_m3", attrs=NUMBER_AT_WIDE)
    age = tables.Column(
        verbose_name=_("Age"),
        accessor="installed_on",
        order_by="-installed_on",
        attrs=NUMBER_AT_WIDE,
    )
    follow_ups = tables.Column(
        verbose_name=_("Follow-ups"),
        empty_values=(),
        order_by=("next_due_at", "tag"),
    )
    last_event = tables.Column(
        verbose_name=_("Last event"),
        accessor="last_event_at",
        empty_values=(),
        attrs=LAST_AT_WIDE,
    )

    class Meta:
        model = System
        fields: tuple[str, ...] = ()
        attrs = {"class": "stacks"}
        order_by = ("-score",)

    def __init__(self, *args, user: User, now: datetime, **kwargs):
        super().__init__(*args, **kwargs)
        self.units, self.now = user.display_units, now
        self.empty_text = gettext("No system matches these filters.")
        self.filter_form = "filters"  # the form that keeps the order when it is sent

    def render_tag(self, record: Listed) -> SafeString:
        name = format_html(
            '<a href="{}">{}</a><br><span class="quiet at-narrow">{}</span>',
            record.get_absolute_url(),
            record.tag,
            record.get_kind_display(),
        )
        if not record.is_incomplete:
            return name
        missing = reverse("registry:rows-to-fix", args=[record.pk])
        link = format_html('<a class="quiet" href="{}">{}</a>', missing, gettext("incomplete"))
        return format_html("{} {}", name, link)

    def render_place(self, record: Listed) -> SafeString | str:
        site = format_html('<a href="{}">{}</a>', record.site.get_absolute_url(), record.site)
        building = format_html('<br><span class="quiet">{}</span>', record.building or "")
        return format_html("{}{}", site, building if record.building else "")

    def render_kind(self, record: Listed) -> str:
        return record.get_kind_display()

    def render_atmosphere(self, record: Listed) -> SafeString:
        since = self._row(record).since
        told = _since(record, since) if since else ""
        words = format_html('<br><span class="quiet">since {}</span>', told) if told else ""
        return format_html("{}{}", state(record.atmosphere_state or ""), words)

    def render_protection(self, record: Listed) -> SafeString:
        words = ProtectionSpan.State(record.protection_state or ProtectionSpan.State.NOT_KNOWN)
        if record.impaired_since is None:
            return format_html("{}", words.label)
        since = record.impaired_since.astimezone(record.site.zone)
        return format_html(
            '<span class="late">{}</span><br><span class="quiet">{}</span>',
            words.label,
            gettext("since {since}").format(since=_day(since)),
        )

    def render_strip(self, record: Listed) -> SafeString:
        return strip(self._row(record).spans, marks=record.marks, now=self.now, of=record)

    def render_score(self, record: Listed) -> SafeString:
        if record.basis is None:
            return format_html('<span class="empty">{}</span>', "not assessed")
        chip = score_chip(record.score, record.band)
        if record.score is not None:
            chip = format_html("{} {}", chip, self._why(record))
        trend = self._row(record).trend
        if trend is None:
            return chip
        words = '{}<br><span class="quiet">{} since {}</span>'
        return format_html(words, chip, signed(trend), f"{record.scored_before:%b %Y}")

    def _why(self, record: Listed) -> str:
        return render_to_string(
            "reports/_portfolio_why.html",
            {
                "channels": channels_of(record.evidence or {}),
                "reasons": record.reasons,
                "contradicted": (record.evidence or {}).get("contradicted", 0),
                "system": record,
            },
        )

    def render_life(self, record: Listed) -> SafeString:
        if record.life_mid_yr is None:
            return format_html('<span class="empty">{}</span>', "not known")
        next_leak = format_html('<br><span class="quiet">{}</span>', gettext("to the next leak"))
        return format_html(
            '{}\u00a0<span class="unit">yr</span><br><span class="quiet">{}</span>{}',
            life(record.life_mid_yr),
            life_band(record),
            next_leak if record.has_leaked else "",
        )

    def render_delay(self, record: Listed) -> SafeString:
        if record.kind == System.Kind.DELUGE:
            return format_html('<span class="empty">{}</span>', "open pipe")
        if record.delay_points is None or record.delay_um is None:
            return format_html('<span class="empty">{}</span>', "not known")
        if not is_worth_telling(record.delay_points, record.delay_um):
            return format_html('<span class="empty">{}</span>', gettext("nothing"))
        return format_html(
            '{}\u00a0<span class="unit">points</span><br><span class="quiet">{}</span>',
            signed(record.delay_points, 2),
            depth_html(record.delay_um, self.units),
        )

    def order_score(self, queryset, is_descending: bool):
        return _unknown_last(queryset, "score", is_descending), True

    def order_life(self, queryset, is_descending: bool):
        return _unknown_last(queryset, "life_mid_yr", is_descending), True

    def order_delay(self, queryset, is_descending: bool):
        return _unknown_last(queryset, "delay_points", is_descending), True

    def order_oxygen(self, queryset, is_descending: bool):
        return by_oxygen(queryset, self.now, is_descending=is_descending), True

    def render_oxygen(self, record: Listed) -> SafeString:
        oxygen = self._row(record).oxygen
        if oxygen is None:
            return format_html('<span class="empty">{}</span>', "not derived")
        return format_html('{}\u00a0<span class="unit">%</span>', percent_text(oxygen.mid))

    def render_volume(self, record: Listed) -> SafeString:
        known = record.volume_m3 or None
        return quantity_html(known, "volume", self.units, fixed=True, empty=gettext("no pipe runs"))

    def render_age(self, record: Listed) -> SafeString:
        years = self._row(record).age_years
        return format_html('{}\u00a0<span class="unit">{}</span>', years, "yr")

    def render_follow_ups(self, record: Listed) -> SafeString:
        if record.next_due_at is None:
            return format_html('<span class="empty">{}</span>', "none")
        due = record.next_due_at.astimezone(record.site.zone)
        return format_html(
            "{} open{}<br>{}", record.follow_ups, _level(record.escalated_to), self._due(due)
        )

    def render_last_event(self, record: Listed) -> SafeString:
        if not record.last_event_at:
            return format_html('<span class="empty">{}</span>', "none logged")
        return format_html(
            '<a href="{}">{}</a><br><span class="quiet">{}</span>',
            reverse("registry:record", args=[record.last_event_pk]),
            self._row(record).last_event,
            _day(record.last_event_at.astimezone(record.site.zone)),
        )

    def _due(self, due: datetime) -> SafeString:
        if due >= self.now:
            return format_html('<span class="quiet">due {}</span>', _day(due))
        return format_html('<span class="late">{} late</span>', duration(self.now - due))

    def _row(self, record: Listed) -> PortfolioRow:
        return PortfolioRow(record, self.now)


def _level(number: int | None) -> SafeString | str:
    """How far a late follow-up was escalated."""
    if not number:
        return ""
    words = ', <span class="quiet"><span class="for-readers">escalated to </span>level {}</span>'
    return format_html(words, number)


def _unknown_last(queryset, name: str, is_descending: bool):
    by = F(name).desc(nulls_last=True) if is_descending else F(name).asc(nulls_last=True)
    return queryset.order_by(by, "tag", "pk")


def duration(late: timedelta) -> str:
    """How late, in its largest unit: “3 weeks”."""
    start = datetime(2000, 1, 1)
    return timesince(start, start + late, depth=1)


def _since(system: System, when: datetime) -> str:
    """The day in short; the year alone where the installation is known by no more."""
    words = system.day_words(when)
    return words if words.isdigit() else _day(when)


def _day(when: datetime) -> str:
    return f"{when.day} {when:%b %Y}"
