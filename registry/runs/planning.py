"""From the register and a form to the planner, and from a plan to what is stored and shown."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from hashlib import sha256
from typing import Any

from django.utils.translation import gettext

from registry.chain import canonical_json
from registry.corrosion.cylinders import cylinder_sizes
from registry.corrosion.gas import (
    absolute_pressure,
    generator_turnover,
    oxygen_from_n2_percent,
    recovery_time,
)
from registry.corrosion.inerting import (
    InertingPlan,
    Notice,
    PlanInputs,
    RoomInputs,
    cover_nitrogen,
    plan_inerting,
)
from registry.models import OwnerPolicy, PipeRun, System
from registry.quantities import PSI, format_quantity

AIR_N2_PERCENT = 79.05
DEFAULT_FEED_N2_PERCENT = 99.9

__all__ = [
    "cover_for_drain_down",
    "generator_recovery_s",
    "notice_text",
    "opening_answers",
    "plan_document",
    "plan_for_system",
    "plan_inerting",
]


def opening_answers(
    system: System, *, oxygen: float | None, volume_m3: float | None = None
) -> dict[str, Any]:
    """What the plan form starts from: the register, the owner's policy and the state of the gas.

    `volume_m3`: where it was read for many systems at once.
    """
    start = AIR_N2_PERCENT if oxygen is None else 100.0 * (1.0 - oxygen)
    feed = system.supply_n2_percent if system.gas_supply == "cylinders" else None
    return {
        "volume_m3": volume_m3 or system.volume().m3 or None,
        "fill_pressure_gauge_pa": PlanInputs.__dataclass_fields__["fill_pressure_gauge_pa"].default,
        "feed_n2_percent": feed or DEFAULT_FEED_N2_PERCENT,
        "start_n2_percent": round(start, 2),
        "target_n2_percent": OwnerPolicy.for_owner(system.site.owner).target_n2_percent,
        "temperature_k": 293.15,
    }


def plan_for_system(system: System, answers: dict[str, Any]) -> InertingPlan:
    """The plan for a system; what the register forbids is refused before any arithmetic counts."""
    room = answers.get("room_volume_m3")
    inputs = PlanInputs(
        volume_m3=answers["volume_m3"],
        fill_pressure_gauge_pa=answers["fill_pressure_gauge_pa"],
        atmosphere_pa=system.site.atmosphere_pa,
        temperature_k=answers["temperature_k"],
        feed_n2_percent=answers["feed_n2_percent"],
        start_n2_percent=answers["start_n2_percent"],
        target_n2_percent=answers["target_n2_percent"],
        rated_pressure_gauge_pa=system.rated_pressure_gauge_pa,
        cylinder=cylinder_sizes()[answers["cylinder"]],
        reserve_pressure_gauge_pa=answers["reserve_pressure_gauge_pa"],
        regulator_flow_m3_s=answers.get("regulator_flow_m3_s") or None,
        room=RoomInputs(room, answers.get("air_flow_m3_s") or 0.0) if room else None,
    )
    plan = plan_inerting(inputs)
    forbidden = register_refusal(system)
    return replace(plan, refusal=forbidden) if forbidden else plan


def register_refusal(system: System) -> Notice | None:
    """Pipe that must not, or cannot, be filled with gas."""
    if system.kind == System.Kind.DELUGE:
        return Notice(
            "open_pipe",
            gettext("A deluge system ends in open nozzles, so nitrogen does not stay in it."),
        )
    if system.pipe_runs.current().filter(material=PipeRun.Material.CPVC).exists():
        return Notice(
            "cpvc",
            gettext(
                "The register shows CPVC pipe in this system. Compressed gas can shatter "
                "it: shut that part off, or correct the register if it is wrong."
            ),
        )
    return None


def notice_text(notice: Notice, inputs: PlanInputs, units: str) -> str:
    """What the planner refuses or warns of; it speaks psi, and a page speaks its reader's units."""
    if inputs.rated_pressure_gauge_pa is None:
        return notice.text
    fill = format_quantity(inputs.fill_pressure_gauge_pa, "pressure", units)
    rated = format_quantity(inputs.rated_pressure_gauge_pa, "pressure", units)
    weakest = gettext("the rated working pressure of the weakest component, {rated}").format(
        rated=rated
    )
    if notice.code == "above_rated_pressure":
        return gettext("The fill pressure of {fill} is above {weakest}.").format(
            fill=fill, weakest=weakest
        )
    if notice.code == "near_rated_pressure":
        return gettext("The fill pressure of {fill} is close to {weakest}.").format(
            fill=fill, weakest=weakest
        )
    return notice.text


@dataclass(frozen=True)
class Cover:
    """Nitrogen to drain a system under cover of gas, and the set-point that pushes it."""

    set_point_gauge_pa: float
    wanted_gauge_pa: float
    nitrogen_m3: float
    is_limited: bool
    is_enough: bool
    turned_down_gauge_pa: float
    saved_m3: float  # at most, by turning the regulator down once water runs


COVER_MARGIN_PA = 10 * PSI
"""Set-point above system pressure: about 10 psi, common practice, no source."""

TURNED_DOWN_PA = 5 * PSI
"""Once water runs out by itself, gas has only to keep air out: about 5 psi, common practice, no
source."""

LEAST_PUSH_PA = 1 * PSI
"""Below this the gas does not push water out against the error of two gauges. Assumed."""


def cover_for_drain_down(
    system: System, *, system_gauge_pa: float, volume_m3: float, temperature_k: float
) -> Cover:
    """Set-point above system pressure and never above the rated pressure of the weakest part."""
    wanted = system_gauge_pa + COVER_MARGIN_PA
    set_point = min(wanted, system.rated_pressure_gauge_pa)
    turned_down = min(set_point, TURNED_DOWN_PA)

    def nitrogen(gauge_pa: float) -> float:
        return cover_nitrogen(
            volume=volume_m3,
            regulator_gauge=gauge_pa,
            atmosphere=system.site.atmosphere_pa,
            temperature=temperature_k,
        )

    return Cover(
        set_point_gauge_pa=set_point,
        wanted_gauge_pa=wanted,
        nitrogen_m3=nitrogen(set_point),
        is_limited=set_point < wanted,
        is_enough=set_point - system_gauge_pa >= LEAST_PUSH_PA,
        turned_down_gauge_pa=turned_down,
        saved_m3=nitrogen(set_point) - nitrogen(turned_down),
    )


def generator_recovery_s(
    system: System, *, flow_m3_s: float, gauge_pa: float, answers: dict[str, Any]
) -> float:
    """Seconds for the system's own generator to sweep it to the target; infinity if never."""
    supply = system.supply_n2_percent or answers["feed_n2_percent"]
    pressure = float(absolute_pressure(gauge_pa, system.site.atmosphere_pa))
    turnover = generator_turnover(
        flow_m3_s, answers["volume_m3"], pressure, temperature=answers["temperature_k"]
    )
    start, feed, target = (
        oxygen_from_n2_percent(value)
        for value in (answers["start_n2_percent"], supply, answers["target_n2_percent"])
    )
    return float(recovery_time(start, feed, target, turnover))


def plan_document(plan: InertingPlan) -> dict[str, Any]:
    """A plan as plain data, for storing beside a run and for other programs. SI; volumes of gas
    in m3 at 101.325 kPa and 21.1 C; `refused` is null or a code and a reason."""
    inputs = plan.inputs
    return {
        "fills": [
            {
                "fill": fill.fill,
                "n2_percent": fill.n2_percent,
                "low": fill.low,
                "high": fill.high,
                "accept_probability": fill.accept_probability,
            }
            for fill in plan.fills
        ],
        "fills_needed": plan.fills_needed,
        "fills_likely": plan.fills_likely,
        "nitrogen_per_fill_m3": plan.nitrogen_per_fill_m3,
        "nitrogen_run_m3": plan.nitrogen_run_m3,
        "nitrogen_to_load_m3": plan.nitrogen_to_load_m3,
        "cylinders": plan.cylinders,
        "cylinders_to_load": plan.cylinders_to_load,
        "usable_per_cylinder_m3": plan.usable_per_cylinder_m3,
        "seconds_per_fill": plan.seconds_per_fill,
        "asymptote_n2_percent": plan.asymptote_n2_percent,
        "refused": _notice(plan.refusal) if plan.refusal else None,
        "warnings": [_notice(warning) for warning in plan.warnings],
        "room": _room(plan),
        "inputs": {
            "volume_m3": inputs.volume_m3,
            "fill_pressure_gauge_pa": inputs.fill_pressure_gauge_pa,
            "atmosphere_pa": inputs.atmosphere_pa,
            "temperature_k": inputs.temperature_k,
            "feed_n2_percent": inputs.feed_n2_percent,
            "start_n2_percent": inputs.start_n2_percent,
            "target_n2_percent": inputs.target_n2_percent,
            "mixing_mean": inputs.mixing.mean,
            "mixing_sd": inputs.mixing.sd,
            "rated_pressure_gauge_pa": inputs.rated_pressure_gauge_pa,
            "cylinder": inputs.cylinder.key,
            "reserve_pressure_gauge_pa": inputs.reserve_pressure_gauge_pa,
            "regulator_flow_m3_s": inputs.regulator_flow_m3_s,
        },
    }


def plan_digest(document: Mapping[str, Any]) -> str:
    """What the ledger keeps of a stored plan, so that another put in its place would not pass."""
    return sha256(canonical_json(document).encode()).hexdigest()


def _notice(notice: Notice) -> dict[str, str]:
    return {"code": notice.code, "reason": notice.text}


def _room(plan: InertingPlan) -> dict[str, Any] | None:
    if plan.room is None:
        return None
    return {
        "lowest_oxygen_percent": 100.0 * plan.room.lowest_oxygen,
        "is_deficient": plan.room.is_deficient,
        "air_flow_to_stay_safe_m3_s": plan.room.air_flow_to_stay_safe_m3_s,
    }
