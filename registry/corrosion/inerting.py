"""The plan of an inerting run: how many fills, what each should read, how much nitrogen.

Bands and probabilities come from what is not known about mixing; with a known index the plan
is exact. The gas volume is that of the pipe emptied of water.
"""

from dataclasses import dataclass, field, replace

import numpy as np

from registry.corrosion.constants import (
    GAS_STATE_TEMPERATURE,
    OXYGEN_IN_DRY_AIR,
    STANDARD_ATMOSPHERE,
)
from registry.corrosion.cylinders import (
    CylinderSize,
    cylinder_sizes,
    cylinders_needed,
    time_at_flow,
    usable_nitrogen,
)
from registry.corrosion.gas import (
    absolute_pressure,
    cycles_needed,
    n2_percent,
    oxygen_from_n2_percent,
    purged_fraction,
    standard_volume,
)
from registry.corrosion.mixing import (
    PRIOR,
    READING_SD,
    MeasuredFill,
    MixingIndex,
    Prediction,
    ReadingJudgement,
    fitted_mixing_index,
    judge_reading,
    predict_next,
    update_mixing,
)
from registry.corrosion.room import RoomCheck, check_room
from registry.corrosion.types import require, require_positive

__all__ = [
    "FillForecast",
    "InertingPlan",
    "MeasuredFill",
    "MixingIndex",
    "Notice",
    "PRIOR",
    "PlanInputs",
    "Prediction",
    "READING_SD",
    "ReadingJudgement",
    "RoomInputs",
    "cover_nitrogen",
    "fitted_mixing_index",
    "judge_reading",
    "plan_inerting",
    "predict_next",
    "update_mixing",
]

PSI = 6894.757293168
NEAR_RATED = 0.9
LIKELY = 0.9


@dataclass(frozen=True, slots=True)
class RoomInputs:
    """The room the nitrogen is vented into. Air flow is fresh air, zero if unknown."""

    volume_m3: float
    air_flow_m3_s: float = 0.0


@dataclass(frozen=True, slots=True)
class PlanInputs:
    """What a plan is made from. Gauge pressures are above the site's atmosphere."""

    volume_m3: float
    fill_pressure_gauge_pa: float = 30.0 * PSI
    vent_pressure_gauge_pa: float = 0.0
    atmosphere_pa: float = STANDARD_ATMOSPHERE
    temperature_k: float = GAS_STATE_TEMPERATURE
    feed_n2_percent: float = 99.9
    start_n2_percent: float = 100.0 * (1.0 - OXYGEN_IN_DRY_AIR)
    target_n2_percent: float = 98.0
    mixing: MixingIndex = PRIOR
    rated_pressure_gauge_pa: float | None = None
    cylinder: CylinderSize = field(default_factory=lambda: cylinder_sizes()["large"])
    reserve_pressure_gauge_pa: float = 200.0 * PSI
    regulator_flow_m3_s: float | None = None
    room: RoomInputs | None = None
    most_fills: int = 8

    def __post_init__(self) -> None:
        require_positive(
            volume_m3=self.volume_m3,
            atmosphere_pa=self.atmosphere_pa,
            temperature_k=self.temperature_k,
            most_fills=self.most_fills,
        )
        for name in ("feed_n2_percent", "start_n2_percent", "target_n2_percent"):
            value = getattr(self, name)
            require(0 <= value <= 100, name, value, "between 0 and 100")

    @property
    def pressure_ratio(self) -> float:
        """Low over high absolute pressure; 1 or more means the gas is not changed."""
        low = float(absolute_pressure(self.vent_pressure_gauge_pa, self.atmosphere_pa))
        return low / float(absolute_pressure(self.fill_pressure_gauge_pa, self.atmosphere_pa))


@dataclass(frozen=True, slots=True)
class FillForecast:
    """Nitrogen after a fill: median and 10-90 % band, and whether acceptance is reached by then."""

    fill: int
    n2_percent: float
    low: float
    high: float
    accept_probability: float


@dataclass(frozen=True, slots=True)
class Notice:
    """A refusal or a warning: a stable code and a sentence for people."""

    code: str
    text: str


@dataclass(frozen=True, slots=True)
class InertingPlan:
    """A plan, or its refusal. Nitrogen in m3 at 101.325 kPa and 21.1 C."""

    inputs: PlanInputs
    fills: tuple[FillForecast, ...]
    fills_needed: int | None
    fills_likely: int | None
    nitrogen_per_fill_m3: float
    nitrogen_run_m3: float | None
    nitrogen_to_load_m3: float | None
    usable_per_cylinder_m3: float
    cylinders: int | None
    cylinders_to_load: int | None
    seconds_per_fill: float | None
    asymptote_n2_percent: float
    refusal: Notice | None
    warnings: tuple[Notice, ...]
    room: RoomCheck | None

    @property
    def is_refused(self) -> bool:
        return self.refusal is not None


def plan_inerting(inputs: PlanInputs) -> InertingPlan:
    """The fills to expect, the nitrogen and cylinders to load, or why it cannot work.

    `fills_needed` is where the median fill passes the target, `fills_likely` where nine runs in
    ten do: order by the first, load the van by the second. Refused plans still hold what can be
    computed, so a page can show the asymptote.
    """
    has_swing = 0 < inputs.pressure_ratio < 1
    fills = _forecasts(inputs) if has_swing else ()
    needed, likely = _fills_needed(inputs, fills)
    per_fill = _nitrogen_per_fill(inputs) if has_swing else 0.0
    usable = _usable_per_cylinder(inputs)
    shown = inputs.most_fills if needed is None else max(needed, likely or 0)
    run, load = _times(per_fill, needed), _times(per_fill, likely)
    room = _room_check(inputs, per_fill)
    return InertingPlan(
        inputs=inputs,
        fills=fills[:shown],
        fills_needed=needed,
        fills_likely=likely,
        nitrogen_per_fill_m3=per_fill,
        nitrogen_run_m3=run,
        nitrogen_to_load_m3=load,
        usable_per_cylinder_m3=usable,
        cylinders=None if run is None else cylinders_needed(run, usable),
        cylinders_to_load=None if load is None else cylinders_needed(load, usable),
        seconds_per_fill=_seconds_per_fill(inputs, per_fill),
        asymptote_n2_percent=inputs.feed_n2_percent,
        refusal=_refusal(inputs, needed),
        warnings=_warnings(inputs, room),
        room=room,
    )


def _forecasts(inputs: PlanInputs) -> tuple[FillForecast, ...]:
    """Composition after each fill; independent of whether the target can be reached."""
    start = float(oxygen_from_n2_percent(inputs.start_n2_percent))
    feed = float(oxygen_from_n2_percent(inputs.feed_n2_percent))
    target = float(oxygen_from_n2_percent(inputs.target_n2_percent))
    index_for_one = float(cycles_needed(start, feed, target, inputs.pressure_ratio))
    index = inputs.mixing.quantile(np.array([0.1, 0.5, 0.9]))
    forecasts = []
    for fill in range(1, inputs.most_fills + 1):
        oxygen = purged_fraction(start, feed, inputs.pressure_ratio, cycles=fill, mixing=index)
        low, middle, high = sorted(np.asarray(n2_percent(oxygen)).tolist())
        accepted = inputs.mixing.probability_at_least(index_for_one / fill)
        forecasts.append(FillForecast(fill, middle, low, high, accepted))
    return tuple(forecasts)


def _fills_needed(
    inputs: PlanInputs, fills: tuple[FillForecast, ...]
) -> tuple[int | None, int | None]:
    """Fills by the median and by nine runs in ten; zero when the target is met at the start."""
    if inputs.start_n2_percent >= inputs.target_n2_percent:
        return 0, 0
    target = inputs.target_n2_percent - 1e-9
    needed = next((f.fill for f in fills if f.n2_percent >= target), None)
    likely = next((f.fill for f in fills if f.accept_probability >= LIKELY), None)
    return needed, likely


def _nitrogen_per_fill(inputs: PlanInputs) -> float:
    low = absolute_pressure(inputs.vent_pressure_gauge_pa, inputs.atmosphere_pa)
    high = absolute_pressure(inputs.fill_pressure_gauge_pa, inputs.atmosphere_pa)
    return float(standard_volume(inputs.volume_m3, low, high, temperature=inputs.temperature_k))


def cover_nitrogen(
    *,
    volume: float,
    regulator_gauge: float,
    atmosphere: float = STANDARD_ATMOSPHERE,
    temperature: float = GAS_STATE_TEMPERATURE,
) -> float:
    """Nitrogen to push `volume` [m3] of water out under cover of gas, m3 at 101.325 kPa, 21.1 C.

    Equation: the whole emptied volume at regulator pressure, V_std = V P / P_std * T_std / T.
    Notes: what blows out through the drain at the end comes on top.
    """
    pressure = absolute_pressure(regulator_gauge, atmosphere)
    return float(standard_volume(volume, 0.0, pressure, temperature=temperature))


def _usable_per_cylinder(inputs: PlanInputs) -> float:
    """Falls back on filling pressure when it is above the reserve: gas flows downhill only."""
    reserve = max(inputs.reserve_pressure_gauge_pa, inputs.fill_pressure_gauge_pa)
    full = inputs.cylinder.full_pressure_gauge_pa
    require(reserve < full, "reserve_pressure_gauge_pa", reserve, "below the full pressure")
    return float(
        usable_nitrogen(
            inputs.cylinder.water_volume_m3, full, reserve, atmosphere=inputs.atmosphere_pa
        )
    )


def _times(per_fill: float, fills: int | None) -> float | None:
    return None if fills is None else per_fill * fills


def _seconds_per_fill(inputs: PlanInputs, per_fill: float) -> float | None:
    if inputs.regulator_flow_m3_s is None:
        return None
    return float(time_at_flow(per_fill, inputs.regulator_flow_m3_s))


def _room_check(inputs: PlanInputs, per_fill: float) -> RoomCheck | None:
    """One fill vented into the room at the rate it was put in, or in ten minutes."""
    if inputs.room is None or per_fill == 0:
        return None
    return check_room(
        volume=inputs.room.volume_m3,
        nitrogen=per_fill,
        nitrogen_flow=inputs.regulator_flow_m3_s or per_fill / 600.0,
        air_flow=inputs.room.air_flow_m3_s,
    )


def _refusal(inputs: PlanInputs, needed: int | None) -> Notice | None:
    rated, fill = inputs.rated_pressure_gauge_pa, inputs.fill_pressure_gauge_pa
    if rated is not None and fill > rated:
        return Notice(
            "above_rated_pressure",
            f"The fill pressure of {fill / PSI:.0f} psi is above the rated working pressure of the"
            f" weakest component, {rated / PSI:.0f} psi.",
        )
    if not 0 < inputs.pressure_ratio < 1:
        return Notice(
            "no_pressure_swing",
            "The fill pressure is not above the vent pressure, so no gas would be exchanged.",
        )
    if needed is not None:
        return None
    if inputs.feed_n2_percent <= inputs.target_n2_percent:
        return Notice(
            "feed_below_target",
            f"Feed gas of {inputs.feed_n2_percent:g} % nitrogen brings the pipe towards"
            f" {inputs.feed_n2_percent:g} % and never past it; the target is"
            f" {inputs.target_n2_percent:g} %. Use purer gas.",
        )
    return Notice(
        "too_many_fills",
        f"The target is not reached within {inputs.most_fills} fills; raise the fill pressure or"
        " use purer gas.",
    )


def _warnings(inputs: PlanInputs, room: RoomCheck | None) -> tuple[Notice, ...]:
    notices = []
    rated, fill = inputs.rated_pressure_gauge_pa, inputs.fill_pressure_gauge_pa
    if rated is None:
        notices.append(
            Notice("rated_pressure_unknown", "The rated working pressure is not on record.")
        )
    elif NEAR_RATED * rated <= fill <= rated:
        notices.append(
            Notice(
                "near_rated_pressure",
                f"The fill pressure is within {100 * (1 - fill / rated):.0f} % of the rated working"
                f" pressure of the weakest component, {rated / PSI:.0f} psi.",
            )
        )
    if room is not None and room.is_deficient:
        notices.append(
            Notice(
                "room_oxygen",
                f"Venting one fill indoors can bring the room to {100 * room.lowest_oxygen:.1f} %"
                " oxygen; below 19.5 % the air is oxygen-deficient. Vent outdoors or ventilate.",
            )
        )
    return tuple(notices)


def plan_from_reading(
    inputs: PlanInputs, *, n2_percent_now: float, mixing: MixingIndex
) -> InertingPlan:
    """The rest of a run, from the last reading and what the fills so far taught."""
    return plan_inerting(replace(inputs, start_n2_percent=n2_percent_now, mixing=mixing))
