"""One system's rows as one input of the physics, with the way back from results to rows."""

import hashlib
from dataclasses import astuple, dataclass, fields
from datetime import UTC, datetime, time
from functools import cached_property, lru_cache
from operator import attrgetter
from typing import Any

from registry.assess.books import Book, Pipe
from registry.assess.clock import installed_years, years
from registry.assess.evidence import Evidence, evidence_of
from registry.assess.fills import MG_L
from registry.assess.gas import GasHistory, gas_history
from registry.atmosphere import LedgerItem
from registry.corrosion.assumptions import MODEL_VERSION, Assumptions
from registry.corrosion.gas import site_atmosphere
from registry.corrosion.inputs import (
    CouponReading,
    GasSpan,
    Leak,
    RunInput,
    SystemInput,
    WallReading,
    WaterDose,
)
from registry.corrosion.water import saturated_oxygen
from registry.kinds.facts import ASSUMPTION_CHANGED, FACTS_AMENDED, SYSTEM_ENTERED
from registry.models import Site
from registry.quantities import PSI

USUAL_WATER_GAUGE_PA = 100 * PSI
"""Water pressure of a system whose own is not recorded. Common practice, no source."""

DEFAULTS = Assumptions()
NAMES = frozenset(item.name for item in fields(Assumptions))


@dataclass(frozen=True)
class Case:
    """What is assessed: `input` for the physics; the rest says which rows it came from."""

    book: Book
    input: SystemInput
    gas: GasHistory
    evidence: Evidence

    @cached_property
    def digest(self) -> str:
        """Of everything that went in but the passing of time."""
        return hashlib.sha256(f"{MODEL_VERSION} {still(self.input)!r}".encode()).hexdigest()


def case_of(book: Book) -> Case | None:
    """None for a system that has no pipe in the register, or was not built yet."""
    system, now_yr = book.system, years(book.known_at)
    installed_yr = installed_years(system.installed_on, system.installed_precision)
    if not book.runs or installed_years(system.installed_on, "day") > now_yr:
        return None
    assumptions = assumptions_of(book)
    gas, evidence = gas_history(book, assumptions), evidence_of(book)
    site = system.site
    given = SystemInput(
        kind=system.kind,
        installed_yr=min(installed_yr, now_yr),
        now_yr=now_yr,
        runs=tuple(_run(run) for run in book.runs),
        pressure_pa=_pressure_pa(book),
        spans=gas.spans,
        water=gas.water,
        walls=tuple(evidence.walls),
        coupons=tuple(evidence.coupons),
        leaks=tuple(evidence.leaks),
        found_wet=evidence.found_wet,
        found_clear=evidence.found_clear,
        signs=tuple(sorted(evidence.signs)),
        sulphate_kg_m3=evidence.sulphate_kg_m3,
        book_began_yr=watched_from(book),
        temperature_k=site.water_temperature_k,
        atmosphere_pa=book.facts.atmosphere_pa,
        dissolved_oxygen_kg_m3=_dissolved_kg_m3(site),
        is_vented=book.has_vent,
        consequence_class=system.consequence_class,
        future_fills_per_year=gas.future_fills_per_year,
        future_oxygen=gas.future_oxygen,
        assumptions=assumptions,
    )
    return Case(book, given, gas, evidence)


TIME = ("now_yr", "future_fills_per_year")
ROWS = {
    "runs": RunInput, "spans": GasSpan, "water": WaterDose, "walls": WallReading,
    "coupons": CouponReading, "leaks": Leak,
}  # fmt: skip
SINGLE = [
    item.name for item in fields(SystemInput) if item.name not in (*TIME, *ROWS, "assumptions")
]
single_of = attrgetter(*SINGLE)
rows_of = {name: attrgetter(*(item.name for item in fields(row))) for name, row in ROWS.items()}


def still(given: SystemInput) -> tuple[Any, ...]:
    """Every field of an input as plain values, but those that time alone changes."""
    tables = (list(map(get, getattr(given, name))) for name, get in rows_of.items())
    return (single_of(given), *tables, _numbers_of(given.assumptions))


@lru_cache(maxsize=1024)
def _numbers_of(assumptions: Assumptions) -> tuple[Any, ...]:
    return astuple(assumptions)


def _run(run: Pipe) -> RunInput:
    return RunInput(
        material=run.material,
        nominal_size=run.nominal_size,
        outside_diameter_m=run.outside_diameter_mm / 1000,
        wall_m=run.wall_mm / 1000,
        length_m=run.length_m,
        installed_yr=installed_years(run.installed_on, run.installed_precision),
        role=run.role,
        joint=run.joint,
    )


def _dissolved_kg_m3(site: Site) -> float:
    """Oxygen in the water let in: as measured, else saturated at the site."""
    if site.measured_dissolved_oxygen_mg_l is not None:
        return site.measured_dissolved_oxygen_mg_l * MG_L
    return _saturated(site.water_temperature_k, site.altitude_m)


@lru_cache(maxsize=4096)
def _saturated(temperature_k: float, altitude_m: float) -> float:
    return float(saturated_oxygen(temperature_k, site_atmosphere(altitude_m)))


def _pressure_pa(book: Book) -> float:
    """Absolute: of the water in service, or of the gas."""
    if book.system.kind == "deluge":
        return book.facts.atmosphere_pa
    if book.system.is_gas_filled:
        return book.facts.service_pressure_pa
    gauge = book.system.service_pressure_gauge_pa or USUAL_WATER_GAUGE_PA
    return gauge + book.facts.atmosphere_pa


KNOWN_YEARS, UNKNOWN_YEARS = "leaks_known_years", "leaks_unknown_years"
"""Until model 2.0 the same was set as years after installation of which leaks are not known, with
none as default. A record that says so keeps its meaning."""

MOST_KNOWN_YEARS = 200.0


def assumptions_of(book: Book) -> Assumptions:
    given = {key: row.details["value"] for key, row in overrides_of(book).items()}
    if (since := _known_since(book)) is not None:
        given[KNOWN_YEARS] = min(max(years(book.began_at) - since, 0.0), MOST_KNOWN_YEARS)
    return DEFAULTS.with_overrides(given) if given else DEFAULTS


def watched_from(book: Book) -> float:
    """When the book began to know of leaks: later than its first day only where a record of the
    time before model 2.0 says so."""
    return max(years(book.began_at), _known_since(book) or 0.0)


def _known_since(book: Book) -> float | None:
    """Since when leaks are known where somebody said so: the day that stands with the system, or
    a record of the older sort, whichever was said last. None: nothing else than the day the book
    began, or the assumption of a number of years before it."""
    last = _last_words(book)
    rows = [row for key in (KNOWN_YEARS, UNKNOWN_YEARS) if (row := last.get(key))]
    latest = max(rows, key=_sequence, default=None)
    is_set = latest is not None and latest.details.get("value") is not None
    day = book.system.leaks_known_since
    if latest is None or not is_set or (day and latest.sequence < _when_said(book)):
        return None if day is None else years(datetime.combine(day, time.min, tzinfo=UTC))
    if latest.details["key"] == KNOWN_YEARS:
        return None
    system = book.system
    put_in = installed_years(system.installed_on, system.installed_precision)
    return put_in + float(latest.details["value"])


def _when_said(book: Book) -> int:
    """Number of the record that entered or last changed since when leaks of a system are known."""
    told = (row for row in book.records if row.kind in (SYSTEM_ENTERED.code, FACTS_AMENDED.code))
    said = (row.sequence for row in told if row.details.get("leaks_known_since"))
    return max(said, default=0)


def overrides_of(book: Book) -> dict[str, LedgerItem]:
    """The record that sets each assumption away from its default; the last word counts."""
    return {
        key: row
        for key, row in _last_words(book).items()
        if key in NAMES and row.details.get("value") is not None
    }


def _last_words(book: Book) -> dict[str, LedgerItem]:
    rows = sorted(book.of_kind(ASSUMPTION_CHANGED.code), key=_sequence)
    return {row.details["key"]: row for row in rows}


@dataclass(frozen=True, slots=True)
class Editable:
    key: str
    value: float
    unit: str
    source: str
    note: str
    least: float
    most: float


def editable_assumptions() -> list[Editable]:
    """What an owner may set for one system, and within which limits."""
    return [
        Editable(
            key=item.name,
            value=getattr(DEFAULTS, item.name),
            **{name: item.metadata[name] for name in ("unit", "source", "note", "least", "most")},
        )
        for item in fields(Assumptions)
    ]


def _sequence(row: LedgerItem) -> int:
    return row.sequence
