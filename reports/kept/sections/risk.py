"""Where the risk is, and all of the systems one by one."""

from collections.abc import Sequence

from django.utils.translation import gettext, ngettext

from registry.models import System
from registry.models.assessments import LEAST_WEEKLY_POINTS
from registry.templatetags.risk import chance, signed
from registry.words.spoken import Number
from reports.kept.collecting import Collected
from reports.kept.layout import Block, Picture, Section, Table, Words
from reports.kept.money_source import marked
from reports.kept.sections.row_words import left_out, life_words, protection_words, state_words
from reports.kept.standing import Standing
from reports.kept.words import score_words, system_words

WORST = 10


def where_the_risk_is(of: Collected) -> Section:
    scored = [row for row in of.rows if row.score is not None]
    expected = sum(row.leak_in_5_yr or 0.0 for row in scored)
    words = ngettext(
        "{count} system has a score. Of them, {expected} are expected to leak within five years.",
        "{count} systems have a score. Of them, {expected} are expected to leak within five years.",
        len(scored),
    ).format(count=len(scored), expected=f"{Number(expected):.1f}")
    blocks: list[Block] = [Words(words)]
    if not of.site:
        blocks.append(_by_site(scored))
    blocks.append(
        Table(
            (
                gettext("System"), gettext("Site"), gettext("Atmosphere"), gettext("Protection"),
                gettext("Score"), gettext("Leak in 5 yr"), gettext("Life left, yr"),
            ),
            [_risk_row(row) for row in scored[:WORST]],
            gettext("No system has a score."),
            wide=1, also=0, numbers=(5, 6),
            note=" ".join(
                part
                for part in (
                    gettext(
                        "The highest scores. 100 is certain; with a consequence of 1 the score is "
                        "the chance in percent of a leak within five years. Life left: median, and "
                        "8 in 10 between."
                    ),
                    left_out(len(scored), WORST),
                )
                if part
            ),
        )
    )  # fmt: skip
    for row in scored:
        if svg := of.strips.get(row.system.pk):
            words = gettext("{system}, {site}: the two years before. Now {state}.").format(
                system=row.system.tag, site=row.system.site, state=state_words(row).lower()
            )
            blocks.append(Picture(words, svg))
    return Section(gettext("Where the risk is"), blocks)


def _by_site(scored: Sequence[Standing]) -> Table:
    sites: dict[int, list[Standing]] = {}
    for row in scored:
        sites.setdefault(row.system.site_id, []).append(row)
    ranked = sorted(sites.values(), key=lambda own: -sum(one.leak_in_5_yr or 0.0 for one in own))
    return Table(
        (
            gettext("Site"), gettext("Systems"), gettext("Highest score"),
            gettext("Leaks expected in 5 yr"),
        ),
        [
            (
                str(own[0].system.site), str(len(own)), score_words(own[0].score, own[0].band),
                f"{Number(sum(one.leak_in_5_yr or 0.0 for one in own)):.2f}",
            )
            for own in ranked[:WORST]
        ],
        gettext("No system has a score."),
        numbers=(1, 3),
        note=left_out(len(ranked), WORST),
    )  # fmt: skip


def _risk_row(row: Standing) -> tuple[str, ...]:
    return (
        row.system.tag,
        str(row.system.site),
        state_words(row),
        protection_words(row),
        score_words(row.score, row.band),
        chance(row.leak_in_5_yr) if row.leak_in_5_yr is not None else gettext("not known"),
        life_words(row),
    )


def all_of_them(of: Collected) -> Section:
    by_place = sorted(of.rows, key=lambda row: (str(row.system.site), row.system.tag))
    heads = (
        gettext("System"), gettext("Site"), gettext("Atmosphere"), gettext("Protection"),
        gettext("Score"), gettext("Life left, yr"), gettext("Waiting a week"),
        gettext("Expected a year"),
    )  # fmt: skip
    table = Table(
        heads, [_listed(row, of) for row in by_place], gettext("No system is here."),
        wide=1, also=0, numbers=(5, 6, 7),
        note=" ".join(
            [
                gettext("Waiting a week: points that each week until the gas is inert adds."),
                gettext("Expected a year: cost of the first leak, averaged over five years."),
                of.money.assumed_words,
            ]
        ).strip(),
    )  # fmt: skip
    return Section(gettext("All of the systems"), [table])


def _listed(row: Standing, of: Collected) -> tuple[str, ...]:
    system: System = row.system
    name = system_words(system)
    return (
        f"{name}. {gettext('Incomplete')}" if system.is_incomplete else name,
        str(system.site),
        state_words(row),
        protection_words(row),
        score_words(row.score, row.band),
        life_words(row),
        _waiting(row.delay_points),
        marked(of.money.a_year(row)),
    )


def _waiting(a_week: float | None) -> str:
    if a_week is None:
        return gettext("nothing")
    return signed(a_week, 2) if abs(a_week) >= LEAST_WEEKLY_POINTS else gettext("below 0.01")
