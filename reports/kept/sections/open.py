"""What is late, and what is not known."""

from collections.abc import Iterator, Sequence

from django.utils.translation import gettext

from registry.models import Site
from reports.kept.collecting import Collected
from reports.kept.layout import Points, Section, Table, Words
from reports.kept.sections.row_words import left_out
from reports.kept.standing import Standing
from reports.kept.words import short_day

LATEST, NAMED = 40, 12


def what_is_late(of: Collected) -> Section:
    rows = of.late
    follow_ups = sum(row.is_follow_up for row in rows)
    words = gettext("{follow_ups} follow-ups and {recurring} of the recurring work.").format(
        follow_ups=follow_ups, recurring=len(rows) - follow_ups
    )
    notes = [left_out(len(rows), LATEST)]
    if not of.asked.is_of_now:
        notes.append(
            gettext(
                "By the due days that the schedule holds today; of what it demanded on an earlier "
                "day it keeps no copy."
            )
        )
    table = Table(
        (
            gettext("Work"), gettext("System"), gettext("Was due"), gettext("Days late"),
            gettext("For, or asked by"),
        ),
        [
            (
                row.what, f"{row.system.tag}, {row.system.site}", short_day(row.due_on),
                str(row.days), row.whose,
            )
            for row in rows[:LATEST]
        ],
        gettext("Nothing was late."),
        also=4, numbers=(3,),
        note=" ".join(note for note in notes if note),
    )  # fmt: skip
    return Section(gettext("What is late"), [Words(words), table] if rows else [table])


def what_is_not_known(of: Collected) -> Section:
    lines = [
        gettext("{words} {count}: {systems}").format(
            words=one.words, count=len(one.systems), systems=_named(one.systems, of.site)
        )
        for one in of.unknowns
    ]
    if not lines:
        lines = [gettext("Of every system here the book can tell all that this report asks.")]
    lines += _as_today(of)
    words = gettext(
        "A state is an inference from what was written down: an event that nobody recorded is not "
        "in it."
    )
    return Section(gettext("What is not known"), [Points(lines), Words(words, is_quiet=True)])


def _as_today(of: Collected) -> Iterator[str]:
    """What of an earlier day is told as it stands today, since no earlier copy is kept."""
    if of.asked.is_of_now:
        return
    if owners := of.named_today:
        yield gettext(
            "As they stand today: the names, sites and limits of {owners}. The ledger that tells "
            "of them had not begun by that day."
        ).format(owners=", ".join(map(str, owners)))
    yield gettext(
        "As they stand today, since the book keeps no earlier copy: prices, rows of the register "
        "still to be fixed, due days and who follow-ups were assigned to."
    )


def _named(rows: Sequence[Standing], site: Site | None) -> str:
    names = [
        row.system.tag if site else f"{row.system.tag} ({row.system.site})"
        for row in sorted(rows, key=lambda one: (str(one.system.site), one.system.tag))
    ]
    more = len(names) - NAMED
    told = ", ".join(names[:NAMED])
    return gettext("{told} and {more} more").format(told=told, more=more) if more > 0 else told
