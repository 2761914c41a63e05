"""From ledger rows to the findings that rules read besides the state of the gas."""

from collections.abc import Callable, Sequence

from registry.kinds.inspections import INSPECTION_COMPLETED
from registry.kinds.readings import WALL_READING
from registry.models import PipeRun, Record, System
from scheduling.rules import Cause, Finding, kinds_that_count


def findings_of(
    system: System, records: Sequence[Record], cause: Callable[[Record], Cause]
) -> tuple[Finding, ...]:
    read = kinds_that_count()
    kept = [record for record in records if record.kind in read]
    walls = _walls(system) if any(record.kind == WALL_READING.code for record in kept) else {}
    first_delivery = _first_delivery(kept)
    return tuple(
        Finding(
            cause=cause(record),
            kind=record.kind,
            details=record.details,
            first_wall_mm=walls.get(_place(record)) if record.kind == WALL_READING.code else None,
            first_delivery_s=first_delivery.get(record.details.get("item", "")),
        )
        for record in kept
    )


def _place(record: Record) -> tuple[str, str]:
    return record.details.get("run_role", ""), record.details.get("nominal_size", "")


def _walls(system: System) -> dict[tuple[str, str], float]:
    """By role and size. Where runs of one place began with different walls, the thinnest counts:
    a reading does not say which it was taken on, and pipe that is merely thin is not worn."""
    walls: dict[tuple[str, str], float] = {}
    for run in PipeRun.objects.current().filter(system=system):
        place = (run.role, run.nominal_size)
        walls[place] = min(run.wall_mm, walls.get(place, run.wall_mm))
    return walls


def _first_delivery(records: Sequence[Record]) -> dict[str, float]:
    """The first water delivery time on record of each test, against which later ones are held."""
    first: dict[str, float] = {}
    for record in records:
        if record.kind == INSPECTION_COMPLETED.code and record.details.get("delivery_time_s"):
            first.setdefault(record.details["item"], record.details["delivery_time_s"])
    return first
