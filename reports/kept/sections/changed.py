"""What changed since the day compared with, and what the events since then cost."""

from django.utils.translation import gettext, ngettext

from registry.templatetags.risk import depth_text, lost, signed
from registry.words.spoken import Number
from registry.words.told.retelling import retold
from reports.kept.changes import Change
from reports.kept.collecting import Collected
from reports.kept.layout import Block, Section, Table, Words
from reports.kept.measures import EventCostRow
from reports.kept.money_source import marked
from reports.kept.sections.row_words import left_out, state_words
from reports.kept.standing import Standing
from reports.kept.words import day_words, score_words, short_day

MOVED, COSTLY = 15, 15


def what_changed(of: Collected) -> Section:
    told = of.bridge
    if not told.systems:
        words = gettext(
            "Nothing to compare: no system here had a score at the end of {since} that the book "
            "could have told."
        ).format(since=day_words(of.asked.since))
        return Section(gettext("What changed, and why"), [Words(words)])
    before, after = f"{Number(told.before):.1f}", f"{Number(told.after):.1f}"
    words = ngettext(
        "The score of {count} system went from {before} to {after}.",
        "The scores of {count} systems together went from {before} to {after}.",
        told.systems,
    ).format(count=told.systems, before=before, after=after)
    steps = [(retold(step.text), signed(step.points)) for step in told.steps]
    moved = [one for one in of.changes if one.has_moved]
    blocks: list[Block] = [
        Words(words),
        Table(
            (gettext("What did it"), gettext("Points")),
            [
                (day_words(of.asked.since), before),
                *steps,
                (day_words(of.asked.as_of), after),
            ],
            "",
            numbers=(1,),
            note=gettext(
                "Both scores are by this version of the model, the earlier one as the book then "
                "knew it. Time passes first, as it was then expected to; what else changed has its "
                "share averaged over every order in which it could have come."
            ),
        ),
        Table(
            (
                gettext("System"), gettext("Site"), gettext("Then"), gettext("Now"),
                gettext("Points"), gettext("Mostly by"),
            ),
            [_moved_row(one) for one in moved[:MOVED]],
            gettext("No score moved by 0.05 points or more, and no state changed."),
            wide=5, also=1, numbers=(4,),
            note=left_out(len(moved), MOVED),
        ),
    ]  # fmt: skip
    return Section(gettext("What changed, and why"), blocks)


def _moved_row(one: Change) -> tuple[str, ...]:
    now, before = one.now, one.before
    return (
        now.system.tag,
        str(now.system.site),
        _then(before),
        f"{score_words(now.score, now.band)}, {state_words(now).lower()}",
        signed(one.points) if one.steps else gettext("new"),
        _mostly(one),
    )


def _then(before: Standing | None) -> str:
    if before is None or before.score is None:
        return gettext("no score")
    return f"{score_words(before.score, before.band)}, {state_words(before).lower()}"


def _mostly(one: Change) -> str:
    if not one.steps:
        return gettext("It had no score then.")
    largest = max(one.steps, key=lambda step: abs(step.points))
    return f"{retold(largest.text)} ({signed(largest.points)})"


def what_events_cost(of: Collected) -> Section:
    rows = of.events
    table = Table(
        (
            gettext("Event"), gettext("System"), gettext("Day"), gettext("Wall"),
            gettext("Days of life"), gettext("Points"), gettext("Cost a year"),
        ),
        [_event_row(row, of) for row in rows[:COSTLY]],
        gettext("No event since then has cost or saved anything that counts."),
        wide=1, also=0, numbers=(3, 4, 5, 6),
        note=" ".join(
            part
            for part in (
                gettext(
                    "Each against the same history without it. Wall: of the run it hurt most, "
                    "once its oxygen is spent. Below zero, it gave days back. Cost a year: by how "
                    "much it raised the chance of a leak within five years, times the price of a "
                    "leak, over five."
                )
                if rows
                else "",
                of.money.assumed_words if rows else "",
                left_out(len(rows), COSTLY),
            )
            if part
        ),
    )  # fmt: skip
    title = gettext("What events cost since {since}").format(since=day_words(of.asked.since))
    return Section(title, [table])


def _event_row(row: EventCostRow, of: Collected) -> tuple[str, ...]:
    zone = row.system.site.zone
    return (
        str(row.record.definition.label),
        f"{row.system.tag}, {row.system.site}",
        short_day(row.at.astimezone(zone).date()),
        depth_text(row.wall_um, of.units),
        gettext("beyond 80 yr") if row.days is None else lost(row.days),
        signed(row.points, 2),
        marked(of.money.added(row.standing, row.points)),
    )
