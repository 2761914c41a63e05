"""Cases through the physics: numbers and reasons of each, ready to be stored or shown."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from registry.assess.cases import Case, overrides_of
from registry.corrosion.assess import HORIZONS, Assessments, assess_many
from registry.corrosion.assumptions import MODEL_VERSION
from registry.corrosion.columns import batch_from
from registry.corrosion.delay import DelayCost
from registry.corrosion.inputs import IN_MODEL
from registry.corrosion.ranking import Judged, Reason, judge_many
from registry.models import Assessment

UM = 1e6
COLUMN = {f"leak_in_{years}_yr": HORIZONS.index(float(years)) for years in (1, 5, 10)}
LIFE = ("life_low_yr", "life_mid_yr", "life_high_yr")
NUMBERS = ("leak_probability", "hazard", "score", "life_yr", "theta", "run_loss_m")


@dataclass(frozen=True)
class Assessed:
    """One case and what came of it. `values` are the fields of an Assessment, but for its dates."""

    case: Case
    values: dict[str, Any]


def assess_cases(cases: Sequence[Case]) -> list[Assessed]:
    """All cases in one calculation; a case alone gives the same numbers as among many."""
    if not cases:
        return []
    batch = batch_from([case.input for case in cases])
    base = assess_many(batch)
    columns = _Columns(base, judge_many(batch, base))
    first = np.searchsorted(batch.runs.system, np.arange(batch.size)).tolist()
    return [Assessed(case, _values(case, columns, at, first[at])) for at, case in enumerate(cases)]


class _Columns:
    """Results as lists of plain numbers; NaN or infinity among them is an error, never stored."""

    def __init__(self, base: Assessments, judged: list[Judged]):
        for name in NUMBERS:
            check_finite(name, getattr(base, name))
        delays = [one.delay for one in judged if one.delay is not None]
        check_finite("delay", [(one.score_points_per_week, one.wall_m_per_week) for one in delays])
        check_finite("points", [reason.points for one in judged for reason in one.reasons])
        self.base, self.judged = base, judged
        self.in_model = base.in_model.tolist()
        self.score, self.hazard = base.score.tolist(), base.hazard.tolist()
        self.likelihood = base.likelihood.tolist()
        self.chances = base.leak_probability.tolist()
        self.lives, self.theta = base.life_yr.tolist(), base.theta.tolist()
        self.loss_um = (UM * base.run_loss_m).tolist()


def check_finite(name: str, values: Any) -> None:
    column = np.asarray(values, dtype=np.float64)
    if not np.isfinite(column).all():
        bad = column[~np.isfinite(column)][0]
        raise ValueError(f"the model gave {bad!r} for {name}; a number was expected")


def _values(case: Case, columns: _Columns, at: int, first_run: int) -> dict[str, Any]:
    basis = _basis(case, columns.in_model[at])
    values = {
        "model_version": MODEL_VERSION,
        "digest": case.digest,
        "basis": basis,
        "runs": _runs(case, columns.loss_um, first_run),
        "evidence": _evidence(case, columns.theta[at]),
    }
    if basis != Assessment.Basis.NONE:
        values |= _numbers(columns, at) | _delay(columns.judged[at].delay)
        values["reasons"] = [_reason(reason) for reason in columns.judged[at].reasons]
    return values


def _basis(case: Case, in_model: bool) -> str:
    if in_model:
        return Assessment.Basis.LEDGER
    return Assessment.Basis.EVIDENCE if case.evidence.leaks else Assessment.Basis.NONE


def _numbers(columns: _Columns, at: int) -> dict[str, Any]:
    chances = columns.chances[at]
    return {
        "score": columns.score[at],
        "band": columns.base.band_name(at),
        "likelihood": columns.likelihood[at],
        **{name: chances[row] for name, row in COLUMN.items()},
        "hazard_5_yr": columns.hazard[at],
        **dict(zip(LIFE, columns.lives[at], strict=True)),
    }


def _delay(delay: DelayCost | None) -> dict[str, float | None]:
    if delay is None:
        return {"delay_points_per_week": None, "delay_um_per_week": None}
    return {
        "delay_points_per_week": delay.score_points_per_week,
        "delay_um_per_week": delay.wall_m_per_week * UM,
    }


def _reason(reason: Reason) -> dict[str, Any]:
    return {
        "code": reason.code,
        "text": reason.text,
        "score_without": reason.score_without,
        "points": reason.points,
    }


def _runs(case: Case, loss_um: list[list[float]], first: int) -> list[dict[str, Any]]:
    """Wall lost by now on the attacked strip of each run the oxygen ledger speaks of."""
    runs = case.book.runs
    return [
        {"run": run.pk, "low_um": low, "mid_um": mid, "high_um": high}
        for run, (low, mid, high) in zip(runs, loss_um[first : first + len(runs)], strict=True)
        if run.material in IN_MODEL
    ]


def _evidence(case: Case, theta: list[float]) -> dict[str, Any]:
    low, mid, high = theta
    return {
        "theta": {"low": low, "mid": mid, "high": high},
        "used": [row.record_id for row in case.evidence.judged if not row.why_not],
        "unused": [row.record_id for row in case.evidence.judged if row.why_not],
        "overrides": sorted(overrides_of(case.book)),
        "known_from": case.gas.known_from.date().isoformat(),
    }
