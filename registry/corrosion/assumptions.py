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

MODEL_VERSION: Final = "2.0"
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
2.0 Leaks have two channels: oxygen, and causes that nitrogen does not stop. Readings count in
    millimetres, by how they were taken; a known thin spot is a fact beside the belief; years count
    as free of leaks only if somebody watched; trapped gas keeps its oxygen when it is pressed.
    Reasons add up to the score, and the words of severity stand on the score.
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
        0.9,
        "m2/m2",
        "No source; dead ends and high stretches stay nearly full of gas while pipe is filled",
        "Share of the cross-section that gas takes where it is trapped, at the pressure of filling."
        " Pressed, the same gas keeps its length along the crown and its waterline rises.",
        least=0.02,
        most=0.98,
    )
    trapped_main: Real = _number(
        0.05,
        "m3/m3",
        "No source",
        "Share of a main's or riser's bore where gas stays trapped, at the pressure of filling.",
    )
    trapped_branch: Real = _number(
        0.20,
        "m3/m3",
        "No source; whether branch lines vent is not measured anywhere we found",
        "The same for branch lines, which end dead and rarely vent.",
    )
    vented_factor: Real = _number(
        0.2, "1", "No source", "What a working air vent leaves of the trapped gas."
    )
    topup_per_year: Real = _number(
        0.05,
        "1/yr",
        "No source; pressure-maintenance pumps make up small leaks with fresh water",
        "Share of the water in water-filled pipe that is made up each year, fills and flows apart.",
        most=52.0,
    )
    dose_exponent: Real = _number(
        1.0,
        "1",
        "No source for still fresh water; 1 where the supply of oxygen limits, as here. Soil gives"
        " 0.73 to 0.83 over time (Caleyo et al., Corros. Sci. 51 (2009) 2197, from memory)",
        "Depth grows with the dose of oxygen to this power, unchanged at one millimetre.",
        least=0.3,
        most=1.0,
    )
    pool_fill: Real = _number(
        0.2,
        "m2/m2",
        "No source; pools in sagged or badly pitched pipe",
        "Share of the cross-section that water takes where it stands in dry pipe.",
        least=0.02,
        most=0.5,
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
        "No source; no survey fraction with a definition behind it was found",
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
    run_spread: Real = _number(
        0.25,
        "1",
        "No source",
        "Log standard deviation of a run's own factor beside its system's, for runs that were"
        " read: a reading tells more of its run than of the others.",
        least=0.01,
        most=1.0,
    )
    gauge_error_m: Real = _number(
        1.5e-4,
        "m",
        "0.1 mm on smooth steel, 0.25 mm between crews: common practice, from memory",
        "Standard deviation of a wall reading that states none of its own.",
        least=1e-5,
        most=2e-3,
    )
    mill_spread: Real = _number(
        0.04,
        "1",
        "ASTM A53 lets a wall be 12.5 % below nominal, taken as three deviations; from memory",
        "Standard deviation of a new wall over the nominal one. A baseline reading replaces it.",
        least=0.001,
        most=0.2,
    )
    rough_bias: Real = _number(
        0.3,
        "1",
        "J. Jpn. Soc. NDI 53(5) 294, abstract: 0.6 to 2.2 mm too thick on rough corroded plate"
        " without dressing. No source for its growing with the loss, up to rough_bias_most_m",
        "Share of the metal lost that a gauge does not see where rust was not ground off.",
        most=0.9,
    )
    rough_bias_most_m: Real = _number(
        6e-4,
        "m",
        "The same source, lower end; no source for pipe, which is thinner than its plate",
        "The most that roughness adds to a reading.",
        most=2.5e-3,
    )
    on_attack_full_scan: Real = _number(
        0.95, "1", "No source", "Chance that the least of a scan all round lies on the attack."
    )
    on_attack_suggested_position: Real = _number(
        0.5, "1", "No source", "The same for a reading at a position the book suggested."
    )
    on_attack_grid: Real = _number(
        0.2, "1", "No source; strips take about this share of the girth", "The same on a grid."
    )
    on_attack_single_spot: Real = _number(
        0.05,
        "1",
        "No source; geometry alone gives 0.001 to 0.4 for pits, by spots and pits (see docs)",
        "The same at one spot that somebody chose.",
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
        1e-4,
        "1/yr",
        "No source",
        "Leaks of neither channel (damage, poor joints), in evidence and forecast alike.",
        least=1e-9,
        most=1.0,
    )
    active_share: Real = _number(
        0.2,
        "1",
        "No source: nobody has published a share with a method behind it",
        "Share of systems where causes that need no oxygen (bacteria, deposits, chlorides, seams)"
        " are active, before evidence on the one at hand.",
        least=0.001,
        most=0.999,
    )
    quiet_shape: Real = _number(
        0.5,
        "1",
        "No source",
        "Shape of the Gamma belief about sites of such attack in a quiet system.",
        least=0.05,
        most=20.0,
    )
    quiet_sites: Real = _number(
        0.03,
        "1",
        "No source",
        "Mean number of sites in a quiet system of 150 m2 of inner surface.",
        least=1e-6,
        most=10.0,
    )
    active_shape: Real = _number(
        1.0, "1", "No source", "Shape of the same in an active system.", least=0.05, most=20.0
    )
    active_sites: Real = _number(
        3.0,
        "1",
        "No source; with the rest it gives leaks mostly at 5 to 20 years and some under 2, as"
        " Clarke & Aguilera, Automatic Sprinkler Systems Handbook 2007, supplement 3, reports",
        "Mean number of sites in an active system of 150 m2 of inner surface.",
        least=0.01,
        most=1000.0,
    )
    site_rate_m_per_yr: Real = _number(
        0.25e-3,
        "m/yr",
        "Fresh water under iron-bacteria tubercles: 6.35 mm in about 25 years, newspaper of 2003"
        " on the Duluth harbour; shut off from oxygen but not oxygen-free",
        "Median rate at which such a site deepens while it is fed.",
        least=1e-5,
        most=1e-2,
        basis="published",
    )
    site_spread: Real = _number(
        0.8,
        "1",
        "No source",
        "Log standard deviation of the time to penetrate from site to site.",
        least=0.1,
        most=2.0,
    )
    sulphate_kg_m3: Real = _number(
        0.05,
        "kg/m3",
        "No source; drinking water holds 0.01 to 0.25",
        "Sulphate in the water let in, unless it was measured.",
        least=1e-4,
        most=5.0,
    )
    catchment_m: Real = _number(
        0.5,
        "m",
        "Diffusion in a year either way, 2 sqrt(2 D t) with D 1e-9 m2/s; from memory",
        "Length of pipe whose water feeds one site.",
        least=0.01,
        most=10.0,
    )
    pool_renewals_per_year: Real = _number(
        1.0,
        "1/yr",
        "No source; condensation, trip tests and drain-down leave fresh water at low points",
        "Times a year that water standing in gas-filled pipe is renewed.",
        least=0.01,
        most=52.0,
    )
    site_read_if_active: Real = _number(
        0.02,
        "1",
        "No source",
        "Chance that a wall reading lies on a site of attack without oxygen, in an active system.",
        least=1e-5,
        most=0.5,
    )
    site_read_if_quiet: Real = _number(
        0.001,
        "1",
        "No source",
        "The same in a quiet system.",
        least=1e-6,
        most=0.1,
    )
    sign_slime: Real = _number(
        2.0,
        "1",
        "No source",
        "What slime found inside does to the odds of active.",
        least=1.0,
        most=50.0,
    )
    sign_tubercles: Real = _number(
        4.0, "1", "No source", "The same for tubercles or scale.", least=1.0, most=50.0
    )
    sign_bacteria: Real = _number(
        1.2,
        "1",
        "No source for the number; counts of sulphate reducers alone prove nothing: Mataqi &"
        " Akbar, IJERA 3(2) 2013, 617",
        "The same for a count of bacteria.",
        least=1.0,
        most=50.0,
    )
    sign_chloride: Real = _number(
        1.5, "1", "No source", "The same for chloride above 250 mg/L.", least=1.0, most=50.0
    )
    sign_acid: Real = _number(
        2.0, "1", "No source", "The same for a pH below 6.5.", least=1.0, most=50.0
    )
    sign_clear: Real = _number(
        0.5,
        "1",
        "No source",
        "The same for a look inside that found clear pipe.",
        least=0.02,
        most=1.0,
    )
    treated_share: Real = _number(
        0.4,
        "1",
        "No source",
        "What flushing and treating the water leaves of attack without oxygen, from then on.",
    )
    leaks_known_years: Real = _number(
        0.0,
        "yr",
        "No source; asked for when a book begins",
        "Years before the book began of which a leak would be on record.",
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
        names = self._array_names()
        if not names:
            return self
        return _unchecked(self, {name: getattr(self, name)[system] for name in names})

    def with_number(self, name: str, value: Real) -> "Assumptions":
        """A copy with one number replaced that is known to be right."""
        return _unchecked(self, {name: value})

    def _array_names(self) -> tuple[str, ...]:
        """Which numbers differ from system to system; asked often, so found once."""
        known: tuple[str, ...] | None = self.__dict__.get("_arrays")
        if known is None:
            known = tuple(name for name in _NAMES if isinstance(getattr(self, name), np.ndarray))
            object.__setattr__(self, "_arrays", known)
        return known


def _unchecked(base: Assumptions, values: Mapping[str, Any]) -> Assumptions:
    """A copy without range checks, for values that were checked before."""
    copy = object.__new__(Assumptions)
    numbers = {name: getattr(base, name) for name in _NAMES}
    copy.__dict__.update(numbers | dict(values))
    return copy


_NAMES: Final = tuple(item.name for item in fields(Assumptions))


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
    distinct = list({id(one): one for one in items}.values())
    for name in _NAMES:
        given = [getattr(one, name) for one in distinct]
        if all(not isinstance(value, np.ndarray) and value == given[0] for value in given):
            continue
        parts = [
            np.broadcast_to(getattr(one, name), size)
            for one, size in zip(items, sizes, strict=True)
        ]
        values[name] = np.concatenate(parts)
    return _unchecked(first, values)


def _has_arrays(one: Assumptions) -> bool:
    return bool(one._array_names())


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
