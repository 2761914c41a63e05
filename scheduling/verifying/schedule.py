"""The schedule against the records and the decisions it follows from, except where a job is yet to
plan again."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from datetime import datetime
from functools import partial

from django.utils import timezone
from django.utils.translation import gettext as _

from registry.kinds.inspections import INSPECTION_COMPLETED, INSPECTION_SKIPPED
from registry.models import Record
from registry.verifying import Check, Held
from scheduling.models import Occurrence, PlanAsked, RecurringItem
from scheduling.recurrence import Anchor, Done, PlannedSlot, Timing, local_day, plan
from scheduling.recurring.drafting import ItemDraft, drafts_for
from scheduling.recurring.upkeep import COMPLETED, done_as, relevant

OF_WORK = (INSPECTION_COMPLETED.code, INSPECTION_SKIPPED.code)
DONE, SKIPPED = Occurrence.Status.DONE, Occurrence.Status.SKIPPED
Rows = defaultdict[int, list[Occurrence]]
Items = defaultdict[int, dict[str, RecurringItem]]


def settled_of(chunk: Sequence[Held]) -> Check:
    """Each row that is done or skipped is what its record says, and none of those is missing."""
    rows: Rows = defaultdict(list)
    wanted = Occurrence.objects.filter(system__in=[one.system.pk for one in chunk])
    for row in wanted.filter(status__in=(DONE, SKIPPED)).order_by("due_on", "pk"):
        rows[row.system_id].append(row)
    items = RecurringItem.objects.filter(system__in=[one.system.pk for one in chunk])
    of_days = items.filter(anchor=Anchor.CALENDAR.value)
    fixed = set(of_days.values_list("system_id", "key"))
    return lambda one: _settled(rows[one.system.pk], fixed, one)


def asked_of(chunk: Sequence[Held]) -> Check:
    """Whether the schedule asks for what the decisions, facts and records ask for now. Asked
    nightly, after everything was planned again: what is asked for is worked out system by system.
    """
    systems = [one.system.pk for one in chunk]
    items: Items = defaultdict(dict)
    for item in RecurringItem.objects.filter(system__in=systems).select_related("area"):
        items[item.system_id][item.key] = item
    rows: Rows = defaultdict(list)
    for row in Occurrence.objects.open().filter(system__in=systems):
        rows[row.system_id].append(row)
    waiting = dict(PlanAsked.objects.values_list("owner", "planned_to"))
    return partial(_planned, items, rows, waiting, timezone.now())


def _planned(
    items: Items, rows: Rows, waiting: dict[int, int], now: datetime, one: Held
) -> Iterator[str]:
    pk, owner = one.system.pk, one.system.site.owner_id
    if pk <= waiting.get(owner, pk):  # else asked for anew, and not planned yet
        yield from _asked(items[pk], rows[pk], one, now)


def _settled(there: Sequence[Occurrence], fixed: set[tuple[int, str]], one: Held) -> Iterator[str]:
    current = {row.pk: row for row in one.current if row.kind in OF_WORK}
    told = set()
    for row in there:
        record = current.get(row.record_id or 0)
        told.add(row.record_id)
        if record is None or not _is_as_recorded(row, record):
            yield _(
                "The schedule says that work due %(due)s is %(status)s, and no record does."
            ) % {
                "due": row.due_on,
                "status": row.status,
            }
    for pk, record in current.items():
        is_early = record.details.get("timing") == Timing.EARLY
        is_beside = is_early and (one.system.pk, record.details["item"]) in fixed
        if pk not in told and not is_beside:  # too early to count in a fixed calendar
            yield _("The schedule does not show the work that record %(number)s tells of.") % {
                "number": record.sequence
            }


def _is_as_recorded(row: Occurrence, record: Record) -> bool:
    said = record.details
    status = DONE if record.kind == COMPLETED else SKIPPED
    same = (row.status, row.due_on.isoformat()) == (status, said["due_on"])
    if status == SKIPPED:
        return same
    return same and (row.timing, row.days) == (said.get("timing", ""), said.get("days", 0))


def _asked(
    standing: dict[str, RecurringItem], there: Sequence[Occurrence], one: Held, now: datetime
) -> Iterator[str]:
    system = one.system
    done = _history(one)
    drafts = {
        draft.key: draft
        for draft in drafts_for(system, standing, done, local_day(now, system.site.zone))
    }
    open_rows = {row.item_id: row for row in there}
    for key, item in standing.items():
        if item.is_active and key not in drafts:
            yield _("The schedule asks for “%(title)s”, and nothing that was decided does.") % {
                "title": item.title
            }
    for key, draft in drafts.items():
        yield from _of_item(draft, standing.get(key), open_rows, done.get(key, []))


def _of_item(
    draft: ItemDraft,
    item: RecurringItem | None,
    open_rows: dict[int, Occurrence],
    done: Sequence[Done],
) -> Iterator[str]:
    title = {"title": draft.title}
    if item is None or not item.is_active:
        yield _("The schedule does not ask for “%(title)s”, and what was decided does.") % title
        return
    if any(getattr(item, name) != value for name, value in draft.values().items()):
        yield _("The schedule has “%(title)s” otherwise than it was decided.") % title
        return
    row = open_rows.get(item.pk)
    if row is None or row.slot != _next(item, done):
        yield _("The next “%(title)s” is not on the day that the records give.") % title


def _next(item: RecurringItem, done: Sequence[Done]) -> PlannedSlot:
    return plan(item.rule, relevant(item, done)).open


def _history(one: Held) -> dict[str, list[Done]]:
    done: dict[str, list[Done]] = {}
    for record in one.current:
        if record.kind in OF_WORK:
            done.setdefault(record.details["item"], []).append(done_as(record, one.system))
    return done
