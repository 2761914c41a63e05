"""What the model assumes: every editable number with its unit, source and reason.

`Assumptions()` holds the defaults. An owner may replace any of them for one system; a field may
then be an array with one value per system, so that a whole portfolio is still one calculation.
"""

from collections.abc import Mapping, Sequence
from dataclasses import Field, dataclass, field, fields, replace
from typing import Any, Final

import numpy as np

from registry.corrosion.constants import TABLE, Basis, Constant
from registry.corrosion.types import Array, Real

MODEL_VERSION: Final = "1.3"
"""Stored with every assessment; raised by any change that moves a number. History:

1.0 First model.
1.1 Gas-filled pipe may drain well: old dry systems without a leak no longer saturate at 100,
    young ones score lower than before, wet ones do not move. Findings inside the pipe count as
    evidence of it. A wall reading's own error counts where it is given. The cost of delay counts
    fills expected while waiting and is linear in the hazard, so it does not vanish near 100.
1.2 The last half year (half of leak_dating_years) no longer counts as free of leaks, so that what
    happened in it cannot speak for the pipe: scores rise a little, most where much air got in
    lately. From when on no leak on record means no leak is an assumption that can be set.
1.3 Deluge pipe, which holds no gas but the air of the place, has no cost of delay, and nothing that
    nitrogen would change is named among its reasons and measures. No score moves.
"""


def _number(
    default: float,
    unit: str,
    source: str,
    note: str = "",
    *,
    least: float = 0.0,
    most: float = 1.0,
    basis: Basis = "assumed",
) -> Any:
    about = {"unit": unit, "source": source, "note": note, "least": least, "most": most}
    return field(default=default, metadata={**about, "basis": basis})


@dataclass(frozen=True)
class Assumptions:
    """Defaults of the corrosion model. Scalars, or arrays with one value per system."""

    rust_film_m: Real = _number(
        2e-3,
        "m",
        "Fitted to Uhlig & Revie, Corrosion and Corrosion Control: steady 10-25 mdd (0.046-0.116"
        " mm/yr) of iron in aerated fresh water; 2 mm gives 0.084 mm/yr at 20 C",
        "Still water and rust that oxygen must cross. The published band is from memory.",
        least=2e-4,
        most=2e-2,
    )
    pocket_fill: Real = _number(
        0.2,
        "m2/m2",
        "No source; a pocket lies along the crown of a nearly level pipe",
        "Share of the cross-section a trapped gas pocket takes.",
        least=0.02,
        most=0.5,
    )
    pool_fill: Real = _number(
        0.2,
        "m2/m2",
        "No source; pools in sagged or badly pitched pipe",
        "Share of the cross-section that water takes where it stands in dry pipe.",
        least=0.02,
        most=0.5,
    )
    pocket_decay_days: Real = _number(
        30.0,
        "d",
        "No source; weeks to a few months fit diffusion over the pocket's own depth",
        "Time constant with which trapped oxygen is consumed.",
        least=1.0,
        most=1000.0,
    )
    trapped_main: Real = _number(
        0.05, "m3/m3", "No source", "Share of a main's or riser's bore where gas stays trapped."
    )
    trapped_branch: Real = _number(
        0.30, "m3/m3", "No source", "The same for branch lines, which end dead and rarely vent."
    )
    vented_factor: Real = _number(
        0.2, "1", "No source", "What a working air vent leaves of the trapped gas."
    )
    wetted_pools: Real = _number(
        0.05,
        "m/m",
        "No source; pitched pipe with drained low points holds less, sagged pipe more",
        "Share of the length of dry pipe that holds water.",
    )
    drained_share: Real = _number(
        0.4,
        "1",
        "No source; which gas-filled systems hold water is not known until somebody looks",
        "Share of gas-filled systems that drain well, before evidence on the one at hand.",
        most=0.99,
    )
    drained_multiplier: Real = _number(
        0.1,
        "1",
        "No source; films and drops are left where pools are not",
        "Depth of attack in systems that drain well, over that in those that hold water.",
        least=0.005,
    )
    drained_spread: Real = _number(
        0.8,
        "1",
        "No source; wide, because pipe drains more or less well",
        "Log standard deviation of the multiplier of systems that drain well.",
        least=0.05,
        most=1.5,
    )
    traces_if_holding: Real = _number(
        0.8,
        "1",
        "No source",
        "Chance that a look inside gas-filled pipe that holds water finds slime or scale.",
        least=0.01,
        most=0.99,
    )
    traces_if_drained: Real = _number(
        0.2,
        "1",
        "No source",
        "Chance that a look inside gas-filled pipe that drains well finds slime or scale.",
        least=0.01,
        most=0.99,
    )
    patch_length_m: Real = _number(
        0.1,
        "m",
        "No source",
        "Length of attacked strip that carries one independent deepest pit.",
        least=0.01,
        most=10.0,
    )
    pit_location: Real = _number(
        1.5,
        "1",
        "No source; pitting factors of 2 to 4 for the deepest of tens of patches follow",
        "Gumbel location of a patch's deepest pit over the mean depth of attack.",
        least=0.5,
        most=10.0,
    )
    pit_scale: Real = _number(
        0.3,
        "1",
        "No source",
        "Gumbel scale of the same, over the mean depth.",
        least=0.02,
        most=2.0,
    )
    local_spread: Real = _number(
        0.3, "1", "No source", "Spread of depth from spot to spot, over the mean.", most=2.0
    )
    theta_spread: Real = _number(
        0.45,
        "1",
        "A little wider than the published steady band of 10-25 mdd, whose log spread is 0.36 if"
        " it holds four systems in five",
        "Log standard deviation of a system's own multiplier before evidence.",
        least=0.05,
        most=1.5,
    )
    zinc_per_surface: Real = _number(
        0.40,
        "kg/m2",
        "ASTM A53, least zinc on each surface, 1.3 oz/ft2; restated by secondary sources",
        "Zinc is used up before steel.",
        most=2.0,
        basis="published",
    )
    unknown_fills_per_year: Real = _number(
        1.0,
        "1/yr",
        "Common practice, no source: drained and refilled about yearly",
        "Water fills before the register knows of any.",
        most=52.0,
    )
    unknown_oxygen: Real = _number(
        0.2095, "mol/mol", "Air unless known otherwise", "Oxygen of the gas before the register."
    )
    unknown_turnover_per_year: Real = _number(
        8.0,
        "1/yr",
        "1 psi a day made up at 30 psig; before 2008 NFPA 25 let 10 psi a week pass (secondary)",
        "Share of a dry system's gas renewed each year before the register.",
        most=1000.0,
    )
    future_fills_wet: Real = _number(
        1.0, "1/yr", "As before the register, no source", "Water fills to expect.", most=52.0
    )
    future_breaches_dry: Real = _number(
        1.0 / 3.0,
        "1/yr",
        "NFPA 25 (2020), full-flow trip test every three years; secondary",
        "Times a year that air gets into a dry system.",
        most=52.0,
    )
    wall_reading_spread: Real = _number(
        0.06,
        "1",
        "UT reading error of 0.1 to 0.25 mm on 3 mm, and mill tolerance; from memory",
        "Log standard deviation of a remaining-wall reading that states no error of its own.",
        least=0.005,
        most=1.0,
    )
    mill_spread: Real = _number(
        0.04,
        "1",
        "ASTM A53 lets a wall be 12.5 % below nominal, taken as three deviations; from memory",
        "Log standard deviation of a new wall about nominal; added to a reading's stated error.",
        least=0.005,
        most=0.5,
    )
    coupon_spread: Real = _number(
        0.4,
        "1",
        "No source; coupons stand for the pipe wall only roughly",
        "Log standard deviation of a coupon's rate against the model's.",
        least=0.05,
        most=2.0,
    )
    other_leaks_per_year: Real = _number(
        1e-3,
        "1/yr",
        "No source",
        "Leaks of other causes (damage, poor joints) when evidence is weighed; keeps one leak that"
        " corrosion cannot explain from settling everything. Not part of the forecast.",
        least=1e-9,
        most=1.0,
    )
    leaks_unknown_years: Real = _number(
        0.0,
        "yr",
        "No source; leaks are remembered longer than most of what happens to pipe",
        "Years after installation of which nobody knows whether the pipe leaked. From then on no"
        " leak on record means no leak, also before the book began.",
        most=200.0,
    )
    leak_dating_years: Real = _number(
        1.0,
        "yr",
        "No source",
        "A leak is taken to have opened within this time before it was found.",
        least=0.01,
        most=10.0,
    )

    def __post_init__(self) -> None:
        for item in fields(self):
            _check(item, getattr(self, item.name))

    def with_overrides(self, overrides: Mapping[str, float]) -> "Assumptions":
        """A copy with some numbers replaced; an unknown name or value out of range is refused."""
        unknown = sorted(set(overrides) - {item.name for item in fields(self)})
        if unknown:
            raise ValueError(f"no assumption is named {', '.join(unknown)}")
        return replace(self, **dict(overrides))

    def for_systems(self, system: "Array | np.ndarray[Any, Any]") -> "Assumptions":
        """The same assumptions with every array picked per row of `system` (an index)."""
        picked = {
            item.name: getattr(self, item.name)[system]
            for item in fields(self)
            if np.ndim(getattr(self, item.name))
        }
        return _unchecked(self, picked) if picked else self


def _unchecked(base: Assumptions, values: Mapping[str, Any]) -> Assumptions:
    """A copy without range checks, for values that were checked before."""
    copy = object.__new__(Assumptions)
    for item in fields(base):
        object.__setattr__(copy, item.name, values.get(item.name, getattr(base, item.name)))
    return copy


def _check(item: Field[Any], value: Real) -> None:
    least, most = item.metadata["least"], item.metadata["most"]
    if not np.all((np.asarray(value) >= least) & (np.asarray(value) <= most)):
        unit = item.metadata["unit"]
        raise ValueError(f"{item.name} is {value!r}; it must be from {least:g} to {most:g} {unit}")


def stacked(items: "list[Assumptions]") -> Assumptions:
    """One set for many systems: scalars where all agree, arrays where they do not."""
    first = items[0]
    if all(item is first for item in items):
        return first
    values: dict[str, Any] = {}
    for item in fields(first):
        column = np.array([getattr(one, item.name) for one in items], dtype=np.float64)
        values[item.name] = float(column[0]) if np.all(column == column[0]) else column
    return _unchecked(first, values)


def joined_assumptions(items: Sequence[Assumptions], sizes: Sequence[int]) -> Assumptions:
    """One set for several batches of so many systems each."""
    first = items[0]
    if all(item is first for item in items) and not _has_arrays(first):
        return first
    values: dict[str, Any] = {}
    for item in fields(first):
        given = [getattr(one, item.name) for one in items]
        if all(np.ndim(value) == 0 and value == given[0] for value in given):
            continue
        parts = [np.broadcast_to(value, size) for value, size in zip(given, sizes, strict=True)]
        values[item.name] = np.concatenate(parts)
    return _unchecked(first, values)


def _has_arrays(one: Assumptions) -> bool:
    return any(np.ndim(getattr(one, item.name)) for item in fields(one))


def assumptions_table() -> list[Constant]:
    """Every number of the model, the fixed constants first: what the page shows."""
    assumed = [
        Constant(
            key=item.name,
            value=item.default,  # type: ignore[arg-type]
            unit=item.metadata["unit"],
            basis=item.metadata["basis"],
            source=item.metadata["source"],
            note=item.metadata["note"],
            editable=True,
        )
        for item in fields(Assumptions)
    ]
    return [*TABLE.values(), *assumed]
