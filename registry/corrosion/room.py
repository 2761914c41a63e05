"""Oxygen in the room where nitrogen is vented: what a technician breathes."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from registry.corrosion.constants import OXYGEN_DEFICIENT, OXYGEN_IN_DRY_AIR
from registry.corrosion.types import (
    Real,
    plain,
    require_fraction,
    require_not_negative,
    require_positive,
)


@dataclass(frozen=True, slots=True)
class RoomCheck:
    """Lowest oxygen a mixed room reaches, and what would hold it safe."""

    lowest_oxygen: float
    is_deficient: bool
    air_flow_to_stay_safe_m3_s: float
    nitrogen_to_deficient_m3: float


def steady_room_oxygen(air_flow: Real, nitrogen_flow: Real) -> Real:
    """Oxygen mole fraction a ventilated room settles at while nitrogen is let in.

    Equation: C_ss = 0.2095 Q / (Q + G).
    Parameters: air_flow Q, nitrogen_flow G : [m3/s], any one unit for both.
    Returns: the fraction of air where nothing flows.
    Source: own derivation, steady mass balance of a mixed room.
    """
    require_not_negative(air_flow=air_flow, nitrogen_flow=nitrogen_flow)
    air, nitrogen = np.asarray(air_flow, dtype=float), np.asarray(nitrogen_flow, dtype=float)
    total = air + nitrogen
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(total > 0, air / total, 1.0)
    return plain(OXYGEN_IN_DRY_AIR * share)


def room_oxygen(
    volume: Real,
    nitrogen_flow: Real,
    time: Real,
    *,
    air_flow: Real = 0.0,
    start: Real = OXYGEN_IN_DRY_AIR,
) -> Real:
    """Oxygen mole fraction in a mixed room after nitrogen has flowed in for `time`.

    Equation: C(t) = C_ss + (C_0 - C_ss) exp(-(Q + G) t / V).
    Parameters: volume V [m3]; nitrogen_flow G, air_flow Q [m3/s]; time [s]; start C_0.
    Notes: mixed room that vents what enters. Near the outlet the gas is poorer than this.
    Example: 30 m3, 8.5 m3/h, no ventilation, one hour
    >>> round(100 * room_oxygen(30.0, 8.5 / 3600, 3600.0), 2)
    15.78

    Source: own derivation, mass balance of a mixed room.
    """
    require_positive(volume=volume)
    require_not_negative(time=time)
    require_fraction(start=start)
    settled = np.asarray(steady_room_oxygen(air_flow, nitrogen_flow))
    changes = (np.asarray(air_flow) + np.asarray(nitrogen_flow)) * np.asarray(time) / volume
    return plain(settled + (np.asarray(start) - settled) * np.exp(-changes))


def room_oxygen_after_release(volume: Real, nitrogen: Real) -> Real:
    """Oxygen mole fraction after `nitrogen` [m3 at room state] went into an unventilated room."""
    require_not_negative(nitrogen=nitrogen)
    return room_oxygen(volume, nitrogen, 1.0)


def is_oxygen_deficient(oxygen: Real) -> bool | NDArray[np.bool_]:
    """Whether air holds less than 19.5 % oxygen by volume; 19.5 % itself is not deficient.

    Source: 29 CFR 1910.146(b); percent by volume at any altitude.
    """
    low = np.asarray(oxygen) < OXYGEN_DEFICIENT
    return bool(low) if low.ndim == 0 else low


def air_flow_to_stay_safe(nitrogen_flow: Real) -> Real:
    """Fresh air that holds a mixed room at 19.5 % oxygen, in the unit of `nitrogen_flow`.

    Equation: Q / G = 0.195 / (0.2095 - 0.195) = 13.4.
    """
    require_not_negative(nitrogen_flow=nitrogen_flow)
    ratio = OXYGEN_DEFICIENT / (OXYGEN_IN_DRY_AIR - OXYGEN_DEFICIENT)
    return plain(ratio * np.asarray(nitrogen_flow, dtype=float))


def nitrogen_to_deficient(volume: Real) -> Real:
    """Nitrogen that brings an unventilated mixed room to 19.5 % oxygen, m3.

    Equation: V ln(0.2095 / 0.195).
    """
    require_positive(volume=volume)
    return plain(np.asarray(volume) * math.log(OXYGEN_IN_DRY_AIR / OXYGEN_DEFICIENT))


def check_room(
    *, volume: float, nitrogen: float, nitrogen_flow: float, air_flow: float = 0.0
) -> RoomCheck:
    """Lowest oxygen while `nitrogen` [m3] is let into the room at `nitrogen_flow` [m3/s]."""
    require_positive(nitrogen_flow=nitrogen_flow)
    lowest = float(room_oxygen(volume, nitrogen_flow, nitrogen / nitrogen_flow, air_flow=air_flow))
    return RoomCheck(
        lowest_oxygen=lowest,
        is_deficient=bool(is_oxygen_deficient(lowest)),
        air_flow_to_stay_safe_m3_s=float(air_flow_to_stay_safe(nitrogen_flow)),
        nitrogen_to_deficient_m3=float(nitrogen_to_deficient(volume)),
    )
