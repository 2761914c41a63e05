"""A row of the portfolio as text: written by one function, since templates took most of the time.

Whatever people typed goes through `escape`; everything else is this program's own.
"""

from collections.abc import Callable, Iterable, Sequence
from datetime import date, datetime
from html import escape
from typing import Final

from django.urls import reverse
from django.utils.formats import date_format
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext

from registry.atmosphere_rows.spans import percent_text
from registry.models import Assessment, ProtectionSpan, System, User
from registry.models.assessments import is_worth_telling
from registry.pages.system import age_in_years
from registry.templatetags.risk import depth_html, life, life_band, points, signed
from registry.templatetags.units import quantity_html
from registry.words.told.retelling import retold
from registry.words.unanswered import unanswered_in_short
from reports.portfolio.columns import Column
from reports.portfolio.row_strip import row_strip
from reports.portfolio.rows import Row, Work, kind_words
from scheduling.lateness import late_words

BAR_WIDTH: Final = 84
SAME = 0.05
STATE_WORDS = {"inert": "Inert", "in_doubt": "In doubt", "aerated": "Aerated"}


def address_of(name: str) -> Callable[[int], str]:
    """Addresses of one kind without asking the resolver for each row."""
    before, after = reverse(name, args=[987654321]).split("987654321")
    return lambda pk: f"{before}{pk}{after}"


class Rows:
    """Writes the rows of one page for one person."""

    def __init__(self, user: User, now: datetime, columns: Sequence[Column], *, selects: str = ""):
        self.units, self.now, self.columns, self.selects = user.display_units, now, columns, selects
        self.year = now.year
        self.system, self.risk = address_of("registry:system"), address_of("reports:risk")
        self.task = address_of("scheduling:task")
        self.planned = address_of("scheduling:occurrence-complete")
        self.record, self.missing = (
            address_of("registry:record"),
            address_of("registry:rows-to-fix"),
        )
        self.site = address_of("registry:site")
        self.kinds = {code: str(words).lower() for code, words in System.Kind.choices}
        self.bands = {code: str(words).lower() for code, words in Assessment.Band.choices}
        self.states = {code: gettext(words) for code, words in STATE_WORDS.items()}
        self.words = {
            "same": gettext("same"), "no score": gettext("not assessed"),
            "unscored": gettext("no score"), "none": gettext("no work open"),
            "not derived": gettext("not derived yet"), "incomplete": gettext("incomplete"),
            "not known": gettext("not known"), "open pipe": gettext("open pipe"),
        }  # fmt: skip

    def html(self, rows: Iterable[Row]) -> SafeString:
        return mark_safe("".join(self.row(row) for row in rows))  # nosec B308

    def row(self, row: Row) -> str:
        further = "".join(self.further(column.code, row) for column in self.columns)
        return (
            f"<tr>{self.tick(row)}{self.head(row)}<td class=sc>{self.score(row)}</td>"
            f"<td class=ch>{self.change(row)}</td><td class=st>{self.state(row)}</td>"
            f"<td class=la>{self.late(row)}</td><td class=nx>{self.next(row)}</td>"
            f'<td class="lo number">{self.loss(row)}</td>{further}</tr>'
        )

    def tick(self, row: Row) -> str:
        if not self.selects:
            return ""
        checked = " checked" if self.selects == "all" else ""
        return (
            f"<td class=tk><input type=checkbox name=system value={row.system.pk} form=several"
            f'{checked} aria-label="{escape(row.tag)}"></td>'
        )

    def head(self, row: Row) -> str:
        system = row.system
        building = f" {escape(str(system.building))}" if system.building else ""
        incomplete = (
            f' <a class=q href="{self.missing(system.pk)}">{self.words["incomplete"]}</a>'
            if system.is_incomplete
            else ""
        )
        return (
            f'<th scope=row><a href="{self.system(system.pk)}">{escape(system.tag)}</a>'
            f"<span class=bl>{building}</span>{incomplete}<br><span class=q>"
            f"{escape(system.site.name)}, {self.kinds.get(system.kind, '')}</span></th>"
        )

    def score(self, row: Row) -> str:
        system = row.system
        if system.basis is None:
            return f"<span class=q>{self.words['no score']}</span>"
        if system.score is None:
            return f"<span class=q>{self.words['unscored']}</span>"
        width = round(BAR_WIDTH * system.score / 100, 1)
        return (
            f'<a class="sev {system.band}" href="{self.risk(system.pk)}#reasons"><b>'
            f"{escape(points(system.score))}</b> {self.bands.get(system.band, '')}</a>"
            f"<svg class=bar width={BAR_WIDTH} height=4 aria-hidden=true><rect width={BAR_WIDTH} "
            f'height=4 class=s0 /><rect width={width} height=4 class="{system.band}"/></svg>'
        )

    def change(self, row: Row) -> str:
        if row.change is None:  # nobody was here before, or there was no score then
            return ""
        if abs(row.change) < SAME and not row.cause:
            return f"<span class=q>{self.words['same']}</span>" if row.system.basis else ""
        told = signed(row.change) if abs(row.change) >= SAME else self.words["same"]
        cause = f"<br><span class=q>{self.cause(row)}</span>" if row.cause else ""
        return f"<b>{told}</b>{cause}"

    def cause(self, row: Row) -> str:
        if row.cause is None:
            return ""
        kind, at = row.cause
        return f"{escape(kind_words(kind).lower())}, {self.day(at.astimezone(row.zone))}"

    def state(self, row: Row) -> str:
        system = row.system
        code = system.atmosphere_state or ""
        if code not in self.states:
            return f"<span class=q>{self.words['not derived']}</span>{self.out(row)}"
        since = system.atmosphere_since
        told = gettext("since %(day)s") % {"day": self.since(row, since)} if since else ""
        return (
            f"{row_strip(row.spans, row.marks, self.now)}<br>{self.states[code]} "
            f"<span class=q>{told}</span>{self.out(row)}"
        )

    def out(self, row: Row) -> str:
        """Out of service stands in a frame of its own, whatever the columns are."""
        since = row.system.impaired_since
        if since is None:
            return ""
        words = gettext("Impaired since %(day)s") % {"day": self.day(since.astimezone(row.zone))}
        missing = unanswered_in_short(row.system.protection_unanswered)
        unsaid = f" <span class=unsaid>{escape(missing)}</span>" if missing else ""
        return f" <span class=out>{words}</span>{unsaid}"

    def late(self, row: Row) -> str:
        first = row.first_work
        if first is None:
            return f"<span class=q>{self.words['none']}</span>"
        days = first.days_late(self.now)
        link = f'<a href="{self.work(first)}">{escape(retold(first.title))}</a>'
        if days is None:
            due = gettext("due %(day)s") % {"day": self.day(first.due_on)}
            told = f"<span class=q>{due}</span>"
        else:
            told = f"<span class=late>{late_words(days)}</span>"
        return (
            f"<span class=w1>{link}</span> {told}<br><span class=q>{self.beside(row, first)}</span>"
        )

    def beside(self, row: Row, first: Work) -> str:
        """When it is booked, else how much more is open, and when the next of that is due."""
        said = []
        if row.system.escalated_to:
            said.append(
                gettext("escalated to level %(level)s") % {"level": row.system.escalated_to}
            )
        if first.booked_for:
            day = self.day(first.booked_for.astimezone(row.zone))
            booked = gettext("booked %(day)s") % {"day": day}
            said.append(f"{booked}, {escape(first.crew)}" if first.crew else booked)
        more = len(row.work) - 1
        late = row.late_count - 1
        if more and late > 0:
            said.append(gettext("and %(more)s more, %(late)s late") % {"more": more, "late": late})
        elif more:
            due = self.day(row.work[1].due_on)
            said.append(gettext("and %(more)s more, due %(day)s") % {"more": more, "day": due})
        return "; ".join(said) or gettext("nothing else open")

    def work(self, one: Work) -> str:
        return self.task(one.pk) if one.is_task else self.planned(one.pk)

    def next(self, row: Row) -> str:
        if row.deed is None:
            return ""
        words = f'<a href="{row.deed.address}">{row.deed.words}</a>'
        words = f"<b>{words}</b>" if row.deed.is_dark else words
        if not (row.deed.is_order or row.deed.code in ("see", "ask")):
            return words
        price = gettext("about %(price)s") % {"price": escape(row.prices.text(row.prices.visit))}
        return f"{words}<br><span class=q>{price}</span>"

    def loss(self, row: Row) -> str:
        if row.loss is None:
            return f"<span class=q>{self.words['not known']}</span>"
        return escape(row.prices.text(row.loss))

    def further(self, code: str, row: Row) -> str:
        css = ' class="number"' if code in NUMBERS else ""
        return f"<td{css}>{getattr(self, f'in_{code}')(row)}</td>"

    def in_place(self, row: Row) -> str:
        system = row.system
        building = f"<br><span class=q>{escape(str(system.building))}</span>"
        link = f'<a href="{self.site(system.site_id)}">{escape(system.site.name)}</a>'
        return f"{link}{building if system.building else ''}"

    def in_kind(self, row: Row) -> str:
        return escape(row.system.get_kind_display())

    def in_protection(self, row: Row) -> str:
        state = row.system.protection_state or ProtectionSpan.State.NOT_KNOWN
        words = escape(str(ProtectionSpan.State(state).label))
        missing = unanswered_in_short(row.system.protection_unanswered)
        return f"{words}<br><span class=q>{escape(missing)}</span>" if missing else words

    def in_life(self, row: Row) -> str:
        if row.system.life_mid_yr is None:
            return f"<span class=q>{self.words['not known']}</span>"
        told = (
            f"{escape(life(row.system.life_mid_yr))}\u00a0<span class=unit>{gettext('yr')}</span>"
        )
        then = f"; {gettext('to the next leak')}" if row.system.has_leaked else ""
        return f"{told}<br><span class=q>{escape(life_band(row.system))}{then}</span>"

    def in_delay(self, row: Row) -> str:
        system = row.system
        if system.kind == System.Kind.DELUGE:
            return f"<span class=q>{self.words['open pipe']}</span>"
        if system.delay_points is None or system.delay_um is None:
            return f"<span class=q>{self.words['not known']}</span>"
        if not is_worth_telling(system.delay_points, system.delay_um):
            return f"<span class=q>{gettext('nothing')}</span>"
        told = gettext("%(points)s points") % {"points": signed(system.delay_points, 2)}
        return f"{told}<br><span class=q>{depth_html(system.delay_um, self.units)}</span>"

    def in_oxygen(self, row: Row) -> str:
        oxygen = row.oxygen
        if oxygen is None:
            return f"<span class=q>{self.words['not derived']}</span>"
        return f"{percent_text(oxygen.mid)}\u00a0<span class=unit>%</span>"

    def in_volume(self, row: Row) -> str:
        known = row.system.volume_m3 or None
        empty = gettext("no pipe runs")
        return quantity_html(known, "volume", self.units, fixed=True, empty=empty)

    def in_replacing(self, row: Row) -> str:
        if row.replacing is None:
            return f"<span class=q>{gettext('no pipe runs')}</span>"
        return escape(row.replacing.marked)

    def in_age(self, row: Row) -> str:
        today = self.now.astimezone(row.zone).date()
        years = age_in_years(row.system.installed_on, today)
        return f"{years}\u00a0<span class=unit>{gettext('yr')}</span>"

    def in_last_event(self, row: Row) -> str:
        if row.last_event is None:
            return f"<span class=q>{gettext('none logged')}</span>"
        pk, kind, at = row.last_event
        day = self.day(at.astimezone(row.zone))
        link = f'<a href="{self.record(pk)}">{escape(kind_words(kind))}</a>'
        return f"{link}<br><span class=q>{day}</span>"

    def since(self, row: Row, when: datetime) -> str:
        """The year alone where the installation is known by no more."""
        words = row.system.day_words(when)
        return words if words.isdigit() else self.day(when.astimezone(row.zone))

    def day(self, when: date) -> str:
        """Without the year while it is this one."""
        return date_format(when, "j M" if when.year == self.year else "j M Y")


NUMBERS = frozenset(("life", "delay", "oxygen", "volume", "age", "replacing"))
