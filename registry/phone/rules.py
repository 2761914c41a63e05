"""What a page gives a phone, so that it judges by the book's own rules while the book is away."""

from collections.abc import Mapping, Sequence
from typing import Any

from django.utils.translation import gettext

from registry.corrosion.mixing import CAUSES
from registry.models import InertingRun, Record, System
from registry.plausibility import as_data
from registry.runs.band import band_state
from registry.runs.progress import demands_on, step_of, takes_water
from registry.runs.steps import (
    CLOSING_GAS,
    CLOSING_WET,
    FILLED,
    HELD,
    PREFIX,
    READ,
    current_fill,
)
from registry.words.told.retelling import retold


def seen_of(system: System) -> dict[str, Any]:
    """The head of the ledger as the page shows it."""
    return {"sequence": system.next_sequence - 1, "hash": system.head_hash}


def for_phone(system: System) -> dict[str, Any]:
    """What a form of one record brings along."""
    return {"seen": seen_of(system), "plausibility": as_data()}


def run_state(run: InertingRun, steps: Sequence[Record]) -> dict[str, Any]:
    """Where the run stands and what its owner asks: enough to say what comes next."""
    step, fill = step_of(run, steps), current_fill(steps)
    own = [row for row in steps if row.details.get("fill") == fill]
    filled = [row for row in own if row.kind == FILLED]
    held = [row for row in own if row.kind == HELD]
    closing = CLOSING_WET if takes_water(run) else CLOSING_GAS
    return {
        "at": step.token if step else "",
        "fill": fill,
        "filled_at": filled[-1].occurred_at.isoformat() if filled else None,
        "readings": [_reading(row) for row in own if row.kind == READ],
        "hold": dict(held[-1].details) if held else None,
        "demands": demands_on(run, steps).as_data(),
        "atmosphere_pa": run.system.site.atmosphere_pa,
        "band": band_state(run, steps),
        "causes": {cause.code: retold(cause.text) for cause in CAUSES}
        | {"oxygen_shown": gettext("The meter showed oxygen: nitrogen is 100 less that.")},
        "closing": [kind.removeprefix(PREFIX) for kind in closing],
    }


def _reading(row: Record) -> Mapping[str, Any]:
    return {
        "n2_percent": row.details["n2_percent"],
        "where": row.details.get("where") or "",
        "at": row.occurred_at.isoformat(),
    }
