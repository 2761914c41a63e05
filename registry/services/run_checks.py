"""What a run refuses or asks about before a step is written, and what it holds already."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any
from uuid import UUID

from django.utils.translation import gettext

from registry.corrosion.inerting import ReadingJudgement
from registry.models import InertingRun, Record
from registry.quantities import format_quantity
from registry.runs.progress import judge, last_done
from registry.runs.steps import PURGED, RunStep
from registry.services.ledger import RecordError
from registry.words.spoken import Spoken


class RunUnderWay(Exception):
    """The system has an unfinished run already; `run` is that one."""

    def __init__(self, run: InertingRun):
        self.run = run
        super().__init__(f"{run.opened_by} has a run of this system under way.")


class StepLogged(Exception):
    """The run is not at this step any more: `logged` is what somebody wrote, if it is there."""

    def __init__(self, step: RunStep, logged: Record | None, run: InertingRun):
        self.step, self.logged, self.run = step, logged, run
        super().__init__(f"{step.token} is not the next step of the run")


class ReadingQuestioned(Exception):
    """A reading that does not fit; it is written when the technician keeps it."""

    def __init__(self, judgement: ReadingJudgement):
        self.judgement = judgement
        super().__init__("; ".join(cause.text for cause in judgement.causes))


def written_with(run: InertingRun, client_key: UUID | None) -> Record | None:
    return run.records.filter(client_key=client_key).first() if client_key else None


def says(row: Record, details: Mapping[str, Any]) -> bool:
    """Whether a record holds these answers: a form sent from a page gone back to may differ."""
    return all(row.details.get(name) == answer for name, answer in details.items())


def questioned(
    run: InertingRun, steps: Sequence[Record], details: dict[str, Any], is_kept: bool
) -> dict[str, Any]:
    n2_percent = details.get("n2_percent")
    judgement = None if n2_percent is None else judge(run, steps, details["fill"], n2_percent)
    if judgement is None or judgement.is_plausible:
        return details
    if not is_kept:
        raise ReadingQuestioned(judgement)
    before = [details["questioned"]] if details.get("questioned") else []
    return details | {"questioned": " ".join(before + [cause.text for cause in judgement.causes])}


def check_order(steps: Sequence[Record], occurred_at: datetime) -> None:
    last = last_done(steps)
    if last and occurred_at < last.occurred_at:
        zone = last.system.site.zone
        raise RecordError(
            {
                "occurred_at": gettext(
                    "The step before was done at {zone:%H:%M on %-d %B}; this one came after it."
                ).format(zone=Spoken(last.occurred_at.astimezone(zone)))
            }
        )


def check_rise(
    run: InertingRun, steps: Sequence[Record], fill: int, details: Mapping[str, Any]
) -> None:
    left = _pressure_left(steps, fill)
    reached = details.get("pressure_gauge_pa")
    if reached is not None and reached <= left:
        raise RecordError(
            {
                "pressure_gauge_pa": gettext(
                    "The pipe was left at {pressure}; a fill ends above that."
                ).format(pressure=format_quantity(left, "pressure"))
            }
        )


def _pressure_left(steps: Sequence[Record], fill: int) -> float:
    purges = (
        step.details["pressure_gauge_pa"]
        for step in steps
        if step.kind == PURGED and step.details["fill"] == fill - 1
    )
    return next(purges, 0.0)


def logged_as(steps: Sequence[Record], step: RunStep) -> Record | None:
    """What stands in the log for a step; for a step of a run that ended, its end."""
    same = (
        row for row in steps if row.kind == step.kind and row.details.get("fill", 0) == step.fill
    )
    return next(same, steps[-1] if steps else None)
