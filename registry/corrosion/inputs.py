"""One system as the physics sees it: pipe, gas, water, evidence.

Times are years (Julian, 365.25 days) on any one axis, the same for everything in a batch.
"""

from dataclasses import dataclass, field

from registry.corrosion.assumptions import Assumptions
from registry.corrosion.constants import STANDARD_ATMOSPHERE
from registry.corrosion.types import (
    require,
    require_fraction,
    require_not_negative,
    require_positive,
)

IN_MODEL = ("black_steel", "galvanized_steel")
"""Materials the oxygen ledger speaks of; the others are judged from field evidence only."""

POOL_KINDS = ("dry", "preaction", "deluge")
OPEN_KINDS = ("deluge",)
"""Kinds whose pipe ends in open nozzles: it holds the air of the place and no other gas."""
KINDS = ("wet", "antifreeze", *POOL_KINDS)

SIGNS = ("slime", "tubercles", "bacteria", "chloride", "acid", "clear")
"""Findings that speak for attack without oxygen (the last against it); each moves the odds by the
ratio that the assumption `sign_...` of its name gives."""

CONSEQUENCE_MULTIPLIER = {1: 0.25, 2: 0.5, 3: 1.0, 4: 2.0, 5: 4.0}
"""Consequence class to the multiplier of the hazard. Assumed: a doubling per class, 3 is base."""


@dataclass(frozen=True, slots=True)
class RunInput:
    """One run of pipe. Fractions left as None take the assumption for its role."""

    material: str
    nominal_size: str
    outside_diameter_m: float
    wall_m: float
    length_m: float
    installed_yr: float
    role: str = "cross_main"
    joint: str = "unknown"
    trapped_fraction: float | None = None
    wetted_fraction: float | None = None

    def __post_init__(self) -> None:
        require_positive(wall_m=self.wall_m, length_m=self.length_m)
        ok = 2.0 * self.wall_m < self.outside_diameter_m
        require(ok, "wall_m", self.wall_m, f"below half of {self.outside_diameter_m} m")
        for name in ("trapped_fraction", "wetted_fraction"):
            if (value := getattr(self, name)) is not None:
                require_fraction(**{name: value})


@dataclass(frozen=True, slots=True)
class GasSpan:
    """The gas from `start_yr` until the next span: after a fill, a breach or a change of supply.

    For water-filled systems `oxygen` is that of the gas the fill trapped and there is no make-up.
    """

    start_yr: float
    oxygen: float
    makeup_oxygen: float = 0.0
    turnover_per_yr: float = 0.0

    def __post_init__(self) -> None:
        require_fraction(oxygen=self.oxygen, makeup_oxygen=self.makeup_oxygen)
        require(self.turnover_per_yr >= 0, "turnover_per_yr", self.turnover_per_yr, "0 or more")


@dataclass(frozen=True, slots=True)
class WaterDose:
    """Fresh water let in: all of it at a fill (`share` 1), part of it at a test flow."""

    at_yr: float
    share: float = 1.0
    dissolved_oxygen_kg_m3: float | None = None


METHODS = ("full_scan", "suggested_position", "grid", "single_spot")
"""How a wall was read: all round, taking the least; at a waterline the book suggested; at the
points of a grid; at one spot that somebody chose."""

DRESSED = ("yes", "no", "unknown")
"""Whether rust was ground off before reading: a gauge on rough pipe reads too thick."""


@dataclass(frozen=True, slots=True)
class WallReading:
    """Remaining wall at one place, or the least of a scan.

    error_m is one standard deviation of the reading; None takes the assumption of the method. A
    baseline, taken while the pipe was new, replaces the nominal wall of its run.
    """

    run: int
    at_yr: float
    remaining_m: float
    method: str = "suggested_position"
    error_m: float | None = None
    dressed: str = "unknown"
    is_baseline: bool = False

    def __post_init__(self) -> None:
        require_positive(remaining_m=self.remaining_m)
        require(self.method in METHODS, "method", self.method, f"one of {', '.join(METHODS)}")  # type: ignore[arg-type]
        require(self.dressed in DRESSED, "dressed", self.dressed, f"one of {', '.join(DRESSED)}")  # type: ignore[arg-type]
        if self.error_m is not None:
            require_not_negative(error_m=self.error_m)


@dataclass(frozen=True, slots=True)
class CouponReading:
    """Penetration rate of a weighed coupon between two dates."""

    run: int
    from_yr: float
    to_yr: float
    rate_m_per_yr: float

    def __post_init__(self) -> None:
        require_positive(rate_m_per_yr=self.rate_m_per_yr, days=self.to_yr - self.from_yr)


@dataclass(frozen=True, slots=True)
class Leak:
    """A pinhole leak found on a date; `run` None when it is not known which run."""

    found_yr: float
    run: int | None = None


@dataclass(frozen=True)
class SystemInput:
    """One system as the physics sees it.

    pressure_pa is absolute: of the water in service for wet and antifreeze, of the gas for dry,
    preaction and deluge. `future_*` None takes the assumption: fills as assumed, with gas like
    the latest fill's (air in dry systems).
    found_wet and found_clear count looks inside gas-filled pipe that found traces of standing
    water (slime, scale), or none; they say nothing of water-filled pipe. signs speak for or against
    attack that needs no oxygen, in any pipe. book_began_yr is since when a leak would be on record
    (earlier by the assumption leaks_known_years); None: of no year. watched_until_yr ends that
    watch before now.
    """

    kind: str
    installed_yr: float
    now_yr: float
    runs: tuple[RunInput, ...]
    pressure_pa: float
    spans: tuple[GasSpan, ...] = ()
    water: tuple[WaterDose, ...] = ()
    walls: tuple[WallReading, ...] = ()
    coupons: tuple[CouponReading, ...] = ()
    leaks: tuple[Leak, ...] = ()
    temperature_k: float = 293.15
    atmosphere_pa: float = STANDARD_ATMOSPHERE
    dissolved_oxygen_kg_m3: float | None = None
    is_vented: bool = False
    consequence_class: int = 3
    future_fills_per_year: float | None = None
    future_oxygen: float | None = None
    found_wet: int = 0
    found_clear: int = 0
    signs: tuple[str, ...] = ()
    sulphate_kg_m3: float | None = None
    book_began_yr: float | None = None
    watched_until_yr: float | None = None
    assumptions: Assumptions = field(default_factory=Assumptions)

    def __post_init__(self) -> None:
        if self.kind not in KINDS:
            raise ValueError(f"kind is {self.kind!r}; it must be one of {', '.join(KINDS)}")
        ok = self.consequence_class in CONSEQUENCE_MULTIPLIER
        require(ok, "consequence_class", self.consequence_class, "from 1 to 5")
        require(self.installed_yr <= self.now_yr, "installed_yr", self.installed_yr, "in the past")
        require_not_negative(found_wet=self.found_wet, found_clear=self.found_clear)
        require_positive(pressure_pa=self.pressure_pa, atmosphere_pa=self.atmosphere_pa)
        for sign in self.signs:
            require(sign in SIGNS, "signs", sign, f"of {', '.join(SIGNS)}")  # type: ignore[arg-type]
        if self.sulphate_kg_m3 is not None:
            require_not_negative(sulphate_kg_m3=self.sulphate_kg_m3)
        named = [wall.run for wall in self.walls] + [coupon.run for coupon in self.coupons]
        named += [leak.run for leak in self.leaks if leak.run is not None]
        for run in named:
            require(0 <= run < len(self.runs), "run", run, f"from 0 to {len(self.runs) - 1}")

    @property
    def has_pools(self) -> bool:
        return self.kind in POOL_KINDS

    @property
    def is_open(self) -> bool:
        return self.kind in OPEN_KINDS
