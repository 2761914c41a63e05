from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time
from typing import Any

from django.utils.translation import gettext

from registry.kinds import DetailsError
from registry.models import Organisation, System, User
from registry.translation import _
from scheduling.models import Occurrence, Task
from scheduling.recurring.completing import complete_occurrence
from scheduling.services.ordering import order_inerting
from scheduling.services.working import hand_over

MOST = 200
NOON = time(12)


@dataclass(frozen=True)
class Deed:
    code: str
    label: str
    asks: tuple[str, ...]
    is_for_managers: bool
    do: Callable[..., None]


@dataclass
class Outcome:
    """The tags done, and a sentence for each that was refused."""

    done: list[str] = field(default_factory=list)
    refused: list[str] = field(default_factory=list)


def _order(*, system: System, by: User, now: datetime, wanted_by: date | None = None) -> None:
    order_inerting(system=system, by=by, now=now, wanted_by=wanted_by)


def _complete(
    *, system: System, by: User, now: datetime, item: str, done_on: date, note: str = ""
) -> None:
    """The open occurrence of that title, done on that day with nothing found."""
    row = Occurrence.objects.open().filter(system=system, item__title=item).with_place().first()
    if row is None:
        raise DetailsError({"": gettext("“%(item)s” is not open here.") % {"item": item}})
    at = datetime.combine(done_on, NOON, system.site.zone)
    complete_occurrence(
        occurrence=row, occurred_at=min(at, now), details={"found": "none"},
        recorded_by=by, now=now, note=note,
    )  # fmt: skip


def _assign(
    *, system: System, by: User, now: datetime, party: Organisation, reason: str = ""
) -> None:
    """Every open follow-up that another has."""
    tasks = Task.objects.open().filter(system=system).exclude(assigned_to=party)
    if not tasks.exists():
        raise DetailsError({"": gettext("Nothing is open here that another has.")})
    for task in tasks:
        hand_over(task=task, party=party, by=by, now=now, reason=reason)


DEEDS: Mapping[str, Deed] = {
    deed.code: deed
    for deed in (
        Deed("order", _("Order inerting"), ("wanted_by",), True, _order),
        Deed("complete", _("Log an inspection as done"), ("item", "done_on", "note"), False,
             _complete),
        Deed("assign", _("Give the open work to"), ("party", "reason"), True, _assign),
    )
}  # fmt: skip


def permitted(deed: Deed, systems: Sequence[System], user: User) -> set[int]:
    keys = System.objects.filter(pk__in=[system.pk for system in systems])
    rows = keys.manageable_by(user) if deed.is_for_managers else keys.recordable_by(user)
    return set(rows.values_list("pk", flat=True))


def carry_out(
    deed: Deed, systems: Sequence[System], answers: Mapping[str, Any], *, by: User, now: datetime
) -> Outcome:
    outcome, may = Outcome(), permitted(deed, systems, by)
    for system in systems:
        if system.pk not in may:
            refusal = gettext("%(tag)s: you may read it and not do this.") % {"tag": system.tag}
            outcome.refused.append(refusal)
            continue
        try:
            deed.do(system=system, by=by, now=now, **answers)
        except DetailsError as error:
            outcome.refused.append(f"{system.tag}: {' '.join(error.problems.values())}")
        else:
            outcome.done.append(system.tag)
    return outcome


def open_titles(systems: Sequence[System], now: datetime) -> list[tuple[str, str]]:
    """Inspections whose window has opened at any of the systems, the earliest late first."""
    rows = Occurrence.objects.to_do(now).filter(system__in=systems).order_by("late_at", "pk")
    titles = dict.fromkeys(rows.values_list("item__title", flat=True))
    return [(title, title) for title in titles]
