"""Cases through the physics: numbers and reasons of each, ready to be stored or shown."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from registry.assess.cases import Case, overrides_of
from registry.assess.clock import moment
from registry.corrosion.assess import HORIZONS, Assessments, assess_many
from registry.corrosion.assumptions import MODEL_VERSION
from registry.corrosion.columns import batch_from
from registry.corrosion.delay import DelayCost
from registry.corrosion.inputs import IN_MODEL
from registry.corrosion.points import CONTRADICTS
from registry.corrosion.ranking import Explanation, Reason, explain_many
from registry.models import Assessment

UM = 1e6
COLUMN = {f"leak_in_{years}_yr": HORIZONS.index(float(years)) for years in (1, 5, 10)}
LIFE = ("life_low_yr", "life_mid_yr", "life_high_yr")
NUMBERS = (
    "leak_probability", "hazard", "score", "life_yr", "theta", "run_loss_m", "run_left_m",
    "by_oxygen", "by_sites", "by_spots",
)  # fmt: skip


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
    columns = _Columns(base, explain_many(batch, base))
    first = np.searchsorted(batch.runs.system, np.arange(batch.size)).tolist()
    return [Assessed(case, _values(case, columns, at, first[at])) for at, case in enumerate(cases)]


class _Columns:
    """Results as lists of plain numbers; NaN or infinity among them is an error, never stored."""

    def __init__(self, base: Assessments, explained: list[Explanation]):
        for name in NUMBERS:
            check_finite(name, getattr(base, name))
        delays = [one.delay for one in explained if one.delay is not None]
        check_finite("delay", [(one.score_points_per_week, one.wall_m_per_week) for one in delays])
        check_finite("points", [reason.points for one in explained for reason in one.reasons])
        self.base, self.explained = base, explained
        self.in_model = base.in_model.tolist()
        self.score, self.hazard = base.score.tolist(), base.hazard.tolist()
        self.likelihood = base.likelihood.tolist()
        self.chances = base.leak_probability.tolist()
        self.lives, self.theta = base.life_yr.tolist(), base.theta.tolist()
        self.loss_um = (UM * base.run_loss_m).tolist()
        self.left_um = (UM * base.run_left_m).tolist()
        self.is_measured = base.run_is_measured.tolist()
        self.channels = _columns_of(base.by_oxygen, base.by_sites, base.by_spots)
        self.active = base.belief.active.tolist()
        self.thinner, self.thicker = base.belief.thinner.tolist(), base.belief.thicker.tolist()
        walls = base.belief.wall_system
        self.first_wall = np.searchsorted(walls, np.arange(base.size + 1)).tolist()


def _columns_of(*columns: Any) -> list[list[float]]:
    """Rows of several columns; nought has no sign."""
    rows: list[list[float]] = (np.stack(columns, axis=1) + 0.0).tolist()
    return rows


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
        "runs": _runs(case, columns, first_run),
        "evidence": _evidence(case, columns, at),
    }
    if basis != Assessment.Basis.NONE:
        values |= _numbers(columns, at) | _delay(columns.explained[at].delay)
        values["reasons"] = [_reason(reason) for reason in columns.explained[at].reasons]
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
        "points": reason.points,
    }


def _runs(case: Case, columns: _Columns, first: int) -> list[dict[str, Any]]:
    """Wall lost and left by now on each run the model speaks of, and where what is left is from."""
    found = []
    for at, run in enumerate(case.book.runs, start=first):
        if run.material in IN_MODEL:
            low, mid, high = columns.loss_um[at]
            source = "measured" if columns.is_measured[at] else "computed"
            found.append(
                {
                    "run": run.pk,
                    "low_um": low,
                    "mid_um": mid,
                    "high_um": high,
                    "left_um": columns.left_um[at],
                    "left_source": source,
                }  # fmt: skip
            )
    return found


CHANNELS = ("oxygen", "other_causes", "known_spots")


def _evidence(case: Case, columns: _Columns, at: int) -> dict[str, Any]:
    low, mid, high = columns.theta[at]
    given = case.input
    began = given.now_yr if given.book_began_yr is None else given.book_began_yr
    since = began - float(given.assumptions.leaks_known_years)
    return {
        "theta": {"low": low, "mid": mid, "high": high},
        "leak_in_5_yr_by": dict(zip(CHANNELS, columns.channels[at], strict=True)),
        "other_causes_active": columns.active[at],
        "contradicted": _contradicted(columns, at),
        "leaks_known_from": moment(max(since, given.installed_yr)).date().isoformat(),
        "used": [row.record_id for row in case.evidence.judged if not row.why_not],
        "unused": [row.record_id for row in case.evidence.judged if row.why_not],
        "overrides": sorted(overrides_of(case.book)),
        "known_from": case.gas.known_from.date().isoformat(),
    }


def _contradicted(columns: _Columns, at: int) -> int:
    """Readings less likely than one in a thousand before they were taken."""
    rows = range(columns.first_wall[at], columns.first_wall[at + 1])
    return sum(
        columns.thinner[row] < CONTRADICTS or columns.thicker[row] < CONTRADICTS for row in rows
    )
