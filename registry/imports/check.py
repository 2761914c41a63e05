"""One row of text -> a parsed row, or its problems field by field."""

from collections import Counter
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import date
from functools import lru_cache, partial
from typing import Any

from registry.corrosion.dimensions import schedules
from registry.imports import cells, dates
from registry.imports.answers import Answers
from registry.imports.headers import Headings
from registry.imports.problems import CellError, Problem
from registry.imports.reader import SheetRow
from registry.models import PipeRun
from registry.quantities import (
    MissingUnitError,
    QuantityError,
    parse_nominal_size,
    parse_quantity,
)
from registry.services import RecordError, pipe_wall

# Rated working pressures of sprinkler components, wide enough for high-rise parts: 8 to 35 bar.
# Common practice, no source. Only used to see that a bare number fits one unit and no other.
RATED_PA = (8e5, 35e5)
RATED_UNITS = ("psi", "bar", "kPa")
LONGEST_RUN_M = 10_000.0


@dataclass(frozen=True, slots=True)
class GivenRun:
    """A pipe run as the register will hold it; two equal ones are the same pipe."""

    role: str
    material: str
    schedule: str
    nominal_size: str
    wall_mm: float
    wall_basis: str
    outside_diameter_mm: float
    length_m: float
    joint: str
    installed_on: date
    installed_precision: str

    @property
    def look(self) -> tuple[str, ...]:
        """What a corrected version of the same run would still share with it."""
        return (self.role, self.material, self.nominal_size)


@dataclass(frozen=True, slots=True)
class ParsedRow:
    number: int
    site: str
    building: str
    tag: str
    kind: str
    hazard: str
    gas_supply: str
    rated_pressure_gauge_pa: float | None
    design_pressure_gauge_pa: float | None
    run: GivenRun
    remark: str

    @property
    def key(self) -> tuple[str, str]:
        return (self.site.casefold(), self.tag.casefold())


@dataclass
class Tally:
    """What the rows showed about the file as a whole."""

    date_orders: Counter[str] = field(default_factory=Counter)
    ambiguous_dates: list[str] = field(default_factory=list)
    bare_lengths: list[str] = field(default_factory=list)
    bare_pressures: Counter[tuple[str, str]] = field(default_factory=Counter)
    light_wall_rows: int = 0
    read_as_no: int = 0


class RowChecker:
    def __init__(self, headings: Headings, answers: Answers, today: date):
        self.headings, self.answers, self.today = headings, answers, today
        self.tally = Tally()

    def check(self, row: SheetRow) -> tuple[ParsedRow | None, list[Problem]]:
        problems: list[Problem] = []
        got = {
            name: self._field(row, name, read, problems) for name, read in self._readers().items()
        }
        section = self._section(row, got, problems)
        if problems or section is None:
            return None, problems
        return ParsedRow(
            number=row.number,
            run=_run(got, section),
            remark=self.headings.cell(row.cells, "remarks"),
            **{name: got[name] for name in SYSTEM_FIELDS},
        ), []

    def _readers(self) -> dict[str, Callable[[str], Any]]:
        return {
            "site": lambda typed: cells.read_name(typed, limit=150),
            "building": lambda typed: cells.read_name(typed, limit=150) if typed else "",
            "tag": self._tag,
            **{word: partial(cells.read_word, word) for word in WORDS},
            "gas_supply": self._gas_supply,
            "rated_pressure_gauge_pa": lambda typed: self._pressure("rated_pressure", typed),
            "design_pressure_gauge_pa": lambda typed: self._pressure("design_pressure", typed),
            "nominal_size": _size,
            "wall": self._wall,
            "length": self._length,
            "installed": self._installed,
        }

    def _field(
        self, row: SheetRow, name: str, read: Callable[[str], Any], problems: list[Problem]
    ) -> Any:
        column = name.removesuffix("_gauge_pa")
        typed = self.headings.cell(row.cells, column)
        try:
            return read(typed)
        except (CellError, QuantityError) as error:
            problem = CellError(error.wrong, error.right).at(self.headings.label(column), typed)
            problems.append(problem)

    def _tag(self, typed: str) -> str:
        if not typed:
            raise CellError(
                "the row does not say which system it belongs to",
                "Write the tag of the system, as in its other rows.",
            )
        return cells.read_name(typed, limit=60)

    def _gas_supply(self, typed: str) -> str:
        if typed.lower() == "n":
            self.tally.read_as_no += 1
        return cells.read_word("gas_supply", typed)

    def _installed(self, typed: str) -> dates.Installed:
        try:
            found = dates.read_date(typed, today=self.today, order=self.answers.date_order)
        except dates.AmbiguousDate:
            self.tally.ambiguous_dates.append(typed)
            raise
        if found.proves:
            self.tally.date_orders[found.proves] += 1
        return found

    def _length(self, typed: str) -> float:
        unit = self.headings.units.get("length") or self.answers.length_unit
        try:
            metres = parse_quantity(typed, "length", default_unit=unit).value_si
        except MissingUnitError as error:
            self.tally.bare_lengths.append(typed)
            raise CellError(error.wrong, f"Write {typed} m or {typed} ft.") from None
        if metres <= 0:
            raise CellError("a pipe run has a length", "Write it like 41 ft or 12.5 m.")
        if metres > LONGEST_RUN_M:
            raise CellError("no pipe run is this long", "Check the number and its unit.")
        return round(metres, 4)

    def _wall(self, typed: str) -> float | None:
        if not typed:
            return None
        unit = self.headings.units.get("wall")
        return round(parse_quantity(typed, "wall", default_unit=unit).value_si, 4)

    def _pressure(self, column: str, typed: str) -> float | None:
        if not typed:
            return None
        unit = self.headings.units.get(column)
        try:
            value = parse_quantity(typed, "pressure", default_unit=unit).value_si
        except MissingUnitError as error:
            if column != "rated_pressure":
                raise
            value = self._bare_rated_pressure(typed, error)
        if value <= 0:
            raise CellError("it must be above zero gauge", "Write it like 175 psi or 12.1 bar.")
        return value

    def _bare_rated_pressure(self, typed: str, error: MissingUnitError) -> float:
        """A bare 175 can only be psi: as bar or kPa no sprinkler component is rated so."""
        fitting = _rated_readings(typed)
        if len(fitting) != 1:
            raise CellError(error.wrong, f"Write {typed} psi or {typed} bar.") from None
        ((unit, value),) = fitting
        self.tally.bare_pressures[typed, unit] += 1
        return value

    def _section(
        self, row: SheetRow, got: dict[str, Any], problems: list[Problem]
    ) -> dict[str, Any] | None:
        """Diameters and wall, once material and size are known, whatever else is wrong."""
        if not got["material"] or not got["nominal_size"]:
            return None
        typed = self.headings.cell(row.cells, "schedule")
        try:
            schedule = cells.read_schedule(typed, got["material"])
        except CellError as error:
            problems.append(error.at(self.headings.label("schedule"), typed))
            return None
        try:
            wall = _wall_of(got["material"], got["nominal_size"], schedule, got["wall"])
        except RecordError as error:
            problems.append(self._wall_problem(row, got, schedule, error))
            return None
        if schedule == "10" and got["nominal_size"] in ("8", "10") and not got["wall"]:
            self.tally.light_wall_rows += 1
        return {"schedule": schedule, **wall}

    def _wall_problem(
        self, row: SheetRow, got: dict[str, Any], schedule: str, error: RecordError
    ) -> Problem:
        material = PipeRun.Material(got["material"]).label
        made = ", ".join(schedules(got["material"]))
        if got["wall"]:
            name, wrong, right = "wall", str(error), "Check the wall and the nominal size."
        elif not schedule:
            name, wrong = "schedule", "nothing says how thick the pipe is"
            right = f"Write a schedule ({made}), or the wall thickness."
        elif schedule in schedules(got["material"]):
            name = "nominal_size"
            wrong = f"{material} schedule {schedule} is not made in this size"
            right = "Check size and schedule, or give the wall thickness."
        else:
            name, wrong = "schedule", f"{material} is not listed in this schedule"
            right = f"Write one of {made}, or give the wall thickness."
        typed = self.headings.cell(row.cells, name)
        return CellError(wrong, right).at(self.headings.label(name), typed)


WORDS = ("kind", "hazard", "role", "material", "joint")
SYSTEM_FIELDS = ("site", "building", "tag", "kind", "hazard", "gas_supply",
                 "rated_pressure_gauge_pa", "design_pressure_gauge_pa")  # fmt: skip


def _run(got: dict[str, Any], section: dict[str, Any]) -> GivenRun:
    return GivenRun(
        role=got["role"],
        material=got["material"],
        length_m=got["length"],
        joint=got["joint"],
        installed_on=got["installed"].on,
        installed_precision=got["installed"].precision,
        **section,
    )


# A register repeats itself: a handful of sizes, walls and ratings in a hundred thousand rows.
_size = lru_cache(maxsize=4096)(parse_nominal_size)


@lru_cache(maxsize=4096)
def _rated_readings(typed: str) -> tuple[tuple[str, float], ...]:
    """The units in which a bare number would rate a sprinkler component."""
    low, high = RATED_PA
    fitting = []
    for unit in RATED_UNITS:
        with suppress(QuantityError):  # a number too large or too small for this unit
            value = parse_quantity(typed, "pressure", default_unit=unit).value_si
            fitting += [(unit, value)] if low <= value <= high else []
    return tuple(fitting)


@lru_cache(maxsize=4096)
def _wall_of(material: str, size: str, schedule: str, wall_mm: float | None) -> dict[str, Any]:
    return pipe_wall(material=material, nominal_size=size, schedule=schedule, wall_mm=wall_mm)
