"""The report of a portfolio or of one site: collected once, and worded for page and paper alike."""

from collections import Counter
from collections.abc import Iterator, Sequence

from django.utils.translation import gettext, ngettext

from registry.models import AtmosphereSpan, Organisation, ProtectionSpan
from reports.kept.checking import of_owner
from reports.kept.collecting import Collected
from reports.kept.layout import Paper
from reports.kept.sections.changed import what_changed, what_events_cost
from reports.kept.sections.money import what_it_costs_if_left, where_money_buys_most_life
from reports.kept.sections.open import what_is_late, what_is_not_known
from reports.kept.sections.risk import all_of_them, where_the_risk_is
from reports.kept.standing import Standing
from reports.kept.words import address_words, day_words
from reports.printing import paper_size

WORST_STATES = (
    AtmosphereSpan.State.AERATED,
    AtmosphereSpan.State.IN_DOUBT,
    AtmosphereSpan.State.INERT,
)
WORST_PROTECTION = (
    ProtectionSpan.State.IMPAIRED,
    ProtectionSpan.State.NOT_KNOWN,
    ProtectionSpan.State.IN_SERVICE,
)


def paper_of(of: Collected) -> Paper:
    return Paper(
        title=gettext("Site report") if of.site else gettext("Portfolio report"),
        about=str(of.called_site) if of.site else _owner_words(of.called_owners),
        place=_place(of),
        size=paper_size(of.units),
        day=of.asked.as_of,
        big=str(len(of.rows)),
        said=list(_said(of)),
        mark=of.verdict.mark,
        found=of.verdict.found,
        sections=[
            where_the_risk_is(of),
            what_changed(of),
            what_events_cost(of),
            what_it_costs_if_left(of),
            what_is_late(of),
            where_money_buys_most_life(of),
            what_is_not_known(of),
            all_of_them(of),
            of_owner(of.verdict, of.owners, now=of.now),
        ],
        name="site-report" if of.site else "portfolio-report",
    )


def _owner_words(owners: Sequence[Organisation]) -> str:
    names = [str(owner) for owner in owners]
    if len(names) <= 3:
        return ", ".join(names) or gettext("No owner")
    return gettext("{count} owners").format(count=len(names))


def _place(of: Collected) -> str:
    site = of.called_site
    if site is None:
        return of.chosen_by or gettext("All systems that the reader may see.")
    return f"{site.owner}. {address_words(site)}"


def _said(of: Collected) -> Iterator[str]:
    rows = of.rows
    yield ngettext("system at {sites}", "systems at {sites}", len(rows)).format(
        sites=_sites_words(rows)
    )
    states = Counter(row.state for row in rows)
    yield _tally([(state.label, states[state.value]) for state in WORST_STATES])
    protected = Counter(row.protection_state for row in rows)
    yield _tally([(state.label, protected[state.value]) for state in WORST_PROTECTION])
    yield of.asked.words
    yield gettext("Compared with the end of {since}.").format(since=day_words(of.asked.since))


def _sites_words(rows: Sequence[Standing]) -> str:
    count = len({row.system.site_id for row in rows})
    return ngettext("{count} site", "{count} sites", count).format(count=count)


def _tally(counts: Sequence[tuple[str, int]]) -> str:
    return ", ".join(f"{count} {str(words).lower()}" for words, count in counts if count)
