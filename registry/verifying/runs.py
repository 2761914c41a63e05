"""Inerting runs and their plans against the records of their steps."""

from collections.abc import Iterator
from typing import Any

from django.utils.translation import gettext as _

from registry.chain import canonical_json
from registry.models import InertingRun, Record
from registry.runs.planning import plan_digest
from registry.runs.steps import PREFIX, STARTED, status_after
from registry.verifying.loading import Held
from registry.verifying.register import words

OF_THE_PLAN = ("volume_m3", "temperature_k")
"""Kept beside the plan, whose digest the first record holds."""


def check_runs(one: Held) -> Iterator[str]:
    begun = {row.inerting_run_id: row for row in one.records if row.kind == STARTED}
    for run in one.runs:
        if run.pk in begun:
            yield from _check_run(one, run, begun[run.pk])
        else:
            yield _("An inerting run of %(day)s is kept that no record began.") % {
                "day": run.opened_at.date()
            }
    there = {run.pk for run in one.runs}
    for key, row in begun.items():
        if key not in there:
            yield _("The inerting run that record %(number)s began is not there.") % {
                "number": row.sequence
            }


def _check_run(one: Held, run: InertingRun, started: Record) -> Iterator[str]:
    number = {"number": started.sequence}
    if run.plan and plan_digest(run.plan) != started.details.get("plan_sha256"):
        yield _("The plan of the inerting run of record %(number)s is not the one made then.") % (
            number
        )
    for name, said, kept in _facts(run, started):
        if canonical_json(said) != canonical_json(kept):
            yield _(
                "The inerting run of record %(number)s has “%(row)s” for %(fact)s, and its record "
                "says “%(said)s”."
            ) % (number | {"row": kept, "fact": words(name), "said": said})
    steps = [
        row for row in one.current if row.inerting_run_id == run.pk and row.kind.startswith(PREFIX)
    ]
    if run.status != status_after(steps):
        yield _(
            "The inerting run of record %(number)s stands as “%(row)s”, and its steps leave it as "
            "“%(said)s”."
        ) % (number | {"row": run.status, "said": status_after(steps)})


def _facts(run: InertingRun, started: Record) -> Iterator[tuple[str, Any, Any]]:
    """Each fact of a run as the records give it, and as the row does."""
    said = started.details
    calibrated = run.analyser_calibrated_on
    for name, kept in (
        ("start_n2_percent", run.start_n2_percent),
        ("feed_n2_percent", run.feed_n2_percent),
        ("target_n2_percent", run.target_n2_percent),
        ("fill_gauge_pa", run.fill_pressure_gauge_pa),
        ("analyser", run.analyser or None),  # a record holds no empty answer
        ("analyser_calibrated_on", calibrated.isoformat() if calibrated else None),
    ):
        yield name, said.get(name), kept
    yield "opened_by", started.recorded_by_id, run.opened_by_id
    yield "opened_at", started.occurred_at.isoformat(), run.opened_at.isoformat()
    inputs = run.plan.get("inputs", {}) if run.plan else {}
    for name in OF_THE_PLAN:
        if name in inputs:
            yield name, inputs[name], getattr(run, name)
