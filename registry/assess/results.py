"""Cases through the physics: numbers and reasons of each, ready to be stored or shown."""

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from registry.assess.cases import Case, overrides_of
from registry.corrosion.assess import HORIZONS, Assessments, assess_many
from registry.corrosion.assumptions import MODEL_VERSION
from registry.corrosion.columns import batch_from
from registry.corrosion.decisions import Reason
from registry.corrosion.delay import DelayCost, delay_costs_of_many
from registry.corrosion.inputs import IN_MODEL
from registry.corrosion.ranking import reasons_of_many
from registry.models import Assessment

UM = 1e6
COLUMN = {years: HORIZONS.index(float(years)) for years in (1, 5, 10)}


@dataclass(frozen=True)
class Assessed:
    """One case and what came of it. `values` are the fields of an Assessment, but for its dates."""

    case: Case
    values: dict[str, Any]


def assess_cases(cases: Sequence[Case]) -> list[Assessed]:
    """All cases in one calculation; a case alone gives the same numbers as among many."""
    if not cases:
        return []
    inputs = [case.input for case in cases]
    base = assess_many(batch_from(inputs))
    reasons = reasons_of_many(inputs, base)
    delays = delay_costs_of_many(inputs, base)
    first = np.concatenate(([0], np.cumsum([len(one.runs) for one in inputs])))
    return [
        Assessed(case, _values(case, base, at, int(first[at]), reasons[at], delays[at]))
        for at, case in enumerate(cases)
    ]


def _values(
    case: Case,
    base: Assessments,
    at: int,
    first_run: int,
    reasons: tuple[Reason, ...],
    delay: DelayCost,
) -> dict[str, Any]:
    basis = _basis(case, bool(base.in_model[at]))
    values = {
        "model_version": MODEL_VERSION,
        "digest": case.digest,
        "basis": basis,
        "runs": _runs(case, base, first_run),
        "evidence": _evidence(case, base, at),
    }
    if basis != Assessment.Basis.NONE:
        values |= _numbers(base, at) | _delay(delay)
        values["reasons"] = [asdict(reason) for reason in reasons]
    return finite(values)


def _basis(case: Case, in_model: bool) -> str:
    if in_model:
        return Assessment.Basis.LEDGER
    return Assessment.Basis.EVIDENCE if case.evidence.leaks else Assessment.Basis.NONE


def _numbers(base: Assessments, at: int) -> dict[str, Any]:
    low, mid, high = (float(years) for years in base.life_yr[at])
    probability = base.leak_probability[at]
    return {
        "score": float(base.score[at]),
        "band": base.band_name(at),
        "likelihood": int(base.likelihood[at]),
        **{f"leak_in_{years}_yr": float(probability[row]) for years, row in COLUMN.items()},
        "hazard_5_yr": float(base.hazard[at]),
        "life_low_yr": low,
        "life_mid_yr": mid,
        "life_high_yr": high,
    }


def _delay(delay: DelayCost) -> dict[str, float]:
    return {
        "delay_points_per_week": delay.score_points_per_week,
        "delay_um_per_week": delay.wall_m_per_week * UM,
    }


def _runs(case: Case, base: Assessments, first: int) -> list[dict[str, Any]]:
    """Wall lost by now on the attacked strip of each run the oxygen ledger speaks of."""
    rows = []
    for at, run in enumerate(case.book.runs):
        if run.material not in IN_MODEL:
            continue
        low, mid, high = (UM * float(loss) for loss in base.run_loss_m[first + at])
        rows.append({"run": run.pk, "low_um": low, "mid_um": mid, "high_um": high})
    return rows


def _evidence(case: Case, base: Assessments, at: int) -> dict[str, Any]:
    low, mid, high = (float(theta) for theta in base.theta[at])
    return {
        "theta": {"low": low, "mid": mid, "high": high},
        "used": [row.record_id for row in case.evidence.judged if not row.why_not],
        "unused": [row.record_id for row in case.evidence.judged if row.why_not],
        "overrides": sorted(overrides_of(case.book)),
        "known_from": case.gas.known_from.date().isoformat(),
    }


def finite(value: Any) -> Any:
    """The value itself; NaN or infinity anywhere in it is an error and never stored."""
    if isinstance(value, dict):
        return {key: finite(item) for key, item in value.items()}
    if isinstance(value, list):
        return [finite(item) for item in value]
    if isinstance(value, float) and not math.isfinite(value):
        raise ValueError(f"the model gave {value!r}; a number was expected")
    return value
