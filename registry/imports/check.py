"""One row of text -> a parsed row, or its problems field by field.

A register repeats itself: of a hundred thousand rows a column holds some thousand different texts.
Each is read once and remembered, with how often it came and what it leaves open.
"""

import re
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from datetime import date
from functools import lru_cache, partial
from typing import Any

from django.utils.translation import gettext

from registry.imports import cells, dates
from registry.imports.amounts import MissingUnitError, Reading, is_confirmed, read_amount
from registry.imports.answers import APART, Answers, word_key
from registry.imports.cells import WORDS, UnknownWord, is_empty
from registry.imports.mapping import Mapping
from registry.imports.numerals import POINT, proves, with_point
from registry.imports.parsed import GivenRun, ParsedRow
from registry.imports.problems import CellError, LeftOut, Problem
from registry.imports.reading import SheetRow
from registry.imports.sizes import Size, read_size
from registry.imports.sniff import Conventions
from registry.imports.tally import Entry, Tally, question_key
from registry.imports.text import plain
from registry.imports.vocabulary import european_pipe
from registry.imports.walls import (
    STEEL,
    USUAL,
    is_ratio,
    no_wall,
    read_schedule,
    section,
    wall_within,
)
from registry.models import PipeRun
from registry.plausibility import judge, says
from registry.plausibility.table import PRESSURE, RATED, WALL
from registry.quantities import QuantityError, parse_quantity
from registry.services.ledger import RecordError
from registry.translation import _

# Rated working pressures of sprinkler components, wide enough for high-rise parts: 8 to 35 bar.
# Common practice, no source. Only used to see that a bare number fits one unit and no other.
RATED_PA = (8e5, 35e5)
BESIDE = re.compile(r"(?<=\d)\s*[x×*]\s*(?=\d)")
RATED_UNITS = ("psi", "bar", "kPa")
REMEMBERED = 20_000  # different texts of one column
# What one row is hardly ever longer than, in metres; common practice, no source. A row beyond is
# asked about, not refused.
DOUBTFUL_M = {"riser": 400.0, "feed_main": 3_000.0, "cross_main": 3_000.0, "branch_line": 20_000.0}
SYSTEM_FIELDS = (
    "site",
    "building",
    "tag",
    "kind",
    "hazard",
    "gas_supply",
    "rated_pressure",
    "design_pressure",
)
MAY_BE_EMPTY = {
    "building": "",
    "hazard": "unknown",
    "joint": "unknown",
    "gas_supply": "unknown",
    "rated_pressure": None,
    "design_pressure": None,
    "wall": None,
    "outside_diameter": None,
    "schedule": "",
    "row_key": "",
    "remarks": "",
}


SAY_THEMSELVES = (*WORDS, "site", "tag", "installed")  # what is right where they are empty
EMPTY = {
    "nominal_size": _("Write it like 1-1/4 or DN32."),
    "length": _("Write it like 41 ft or 12.5 m."),
}


@dataclass(slots=True)
class Checked:
    row: SheetRow
    parsed: ParsedRow | None
    problems: list[Problem]
    left_out: str = ""
    place: tuple[str, str] | None = None  # site and tag, as far as they can be read


class RowChecker:
    def __init__(self, mapping: Mapping, answers: Answers, today: date, found: Conventions):
        self.mapping, self.answers, self.today = mapping, answers, today
        self.conventions = found
        self.tally = Tally()
        self.entries: dict[str, dict[str, Entry]] = {}
        self.plan = [
            (name, mapping.position.get(name, -1), read, self.entries.setdefault(name, {}))
            for name, read in self._readers().items()
        ]

    def check(self, row: SheetRow) -> Checked:
        got: dict[str, Any] = {}
        problems: list[Problem] = []
        left_out = ""
        for name, at, read, entries in self.plan:
            typed = row.cells[at] if 0 <= at < len(row.cells) else ""
            entry = entries.get(typed)
            if entry is None:
                entry = self._first(name, typed, read, entries, row)
            entry.count += 1
            got[name] = entry.value
            if entry.problem:
                problems.append(entry.problem)
            left_out = left_out or entry.left_out
        if left_out:
            return Checked(row, None, [], left_out)
        if self.answers.same_tags == APART and got["building"] and got["tag"]:
            got["tag"] = f"{got['building']} {got['tag']}"[:60]
        wall = self._section(row, got, problems)
        self._doubt_length(row, got, problems)
        self._doubt_measures(row, got, problems)
        place = (got["site"], got["tag"]) if got["site"] and got["tag"] else None
        if problems or wall is None:
            return Checked(row, None, problems, "", place)
        return Checked(row, self._parsed(row, got, wall), [], "", place)

    def finish(self) -> Tally:
        """What the rows showed about the file as a whole."""
        for name, entries in self.entries.items():
            for typed, entry in entries.items():
                self.tally.add(name, typed, entry)
        return self.tally

    def anew(self) -> "RowChecker":
        """For the rows once more: what was read is remembered, and nothing is counted twice."""
        self.tally = Tally()
        return self

    def _first(
        self,
        name: str,
        typed: str,
        read: Callable[[str], Any],
        entries: dict[str, Entry],
        row: SheetRow,
    ) -> Entry:
        entry = self._read(name, typed, read)
        entry.first_row = row.name
        if len(entries) < REMEMBERED:
            entries[typed] = entry
        else:
            entry.count = 1
            self.tally.add(name, typed, entry)
        return entry

    def _read(self, name: str, typed: str, read: Callable[[str], Any]) -> Entry:
        was_empty = name != "remarks" and is_empty(typed) and not cells.is_known(name, typed)
        text = self.answers.blank.get(name, "") if was_empty else typed
        if name == "schedule" and was_empty:  # which one depends on the material of the row
            text = ""
        try:
            if not text and name in MAY_BE_EMPTY:
                return Entry(MAY_BE_EMPTY[name])
            if not text and name not in SAY_THEMSELVES:
                raise CellError(
                    gettext("nothing is written here"), EMPTY.get(name, gettext("Write it."))
                )
            return Entry(read(text))
        except LeftOut as reason:
            return Entry(None, left_out=str(reason))
        except (CellError, QuantityError) as error:
            return Entry(None, self._problem(name, typed, error, was_empty=was_empty), error=error)

    def _problem(
        self, name: str, typed: str, error: CellError | QuantityError, *, was_empty: bool
    ) -> Problem:
        typed = plain(typed)
        question = getattr(error, "question", "")
        if was_empty:
            question = question or f"blank:{name}"
        elif isinstance(error, UnknownWord):
            question = f"word:{question_key(name, typed, error)}"
        elif isinstance(error, MissingUnitError):
            question = "length_unit" if name == "length" else f"unit:{name}"
        problem = CellError(error.wrong, error.right, question)
        return problem.at(self.mapping.label(name), typed)

    def _readers(self) -> dict[str, Callable[[str], Any]]:
        chosen = self.answers.words
        return {
            "site": partial(cells.read_name, limit=150),
            "building": partial(cells.read_name, limit=150),
            "tag": self._tag,
            **{word: partial(self._word, word) for word in WORDS},
            "rated_pressure": self._rated_pressure,
            "design_pressure": partial(self._pressure, "design_pressure"),
            "nominal_size": partial(read_size, unit=self.conventions.size_unit, chosen=chosen),
            "outside_diameter": self._diameter,
            "wall": self._wall,
            "length": self._length,
            "installed": self._installed,
            "schedule": str.strip,
            "row_key": plain,
            "remarks": plain,
        }

    def _tag(self, typed: str) -> str:
        if not typed:
            raise CellError(
                gettext("the row does not say which system it belongs to"),
                gettext("Write the tag of the system, as in its other rows."),
            )
        return cells.read_tag(typed, limit=60, chosen=self.answers.words)

    def _word(self, name: str, typed: str) -> str:
        return cells.read_word(
            name, typed, chosen=self.answers.words, languages=self.mapping.languages
        )

    def _installed(self, typed: str) -> dates.Installed:
        return dates.read_date(typed, today=self.today, order=self.answers.date_order)

    def _reading(self, column: str, dimension: str) -> Reading:
        unit = self.mapping.units.get(column) or self.answers.unit_of(column)
        return Reading(dimension, unit, self.conventions.decimal)

    def _length(self, typed: str) -> float:
        try:
            metres = read_amount(typed, self._reading("length", "length"))
        except MissingUnitError as error:
            shown = plain(typed)
            error.right = gettext("Write %(shown)s m or %(shown)s ft.") % {"shown": shown}
            raise
        if metres <= 0:
            raise CellError(
                gettext("a pipe run has a length"), gettext("Write it like 41 ft or 12.5 m.")
            )
        return round(metres, 4)

    def _diameter(self, typed: str) -> float:
        """Of “219.1 x 6.3” the first; the wall is read by itself."""
        diameter, sign, _ = BESIDE.sub("x", plain(typed)).partition("x")
        return self._millimetres("outside_diameter", diameter.strip() if sign else typed)

    def _wall(self, typed: str) -> float | None:
        """A ratio of diameter to wall stands in the column of walls, and is a schedule."""
        return None if is_ratio(typed) else self._millimetres("wall", typed)

    def _millimetres(self, column: str, typed: str) -> float:
        return round(read_amount(typed, self._reading(column, "wall")), 4)

    def _pressure(self, column: str, typed: str) -> float:
        value = read_amount(typed, self._reading(column, "pressure"))
        if value <= 0:
            raise CellError(
                gettext("it must be above zero gauge"),
                gettext("Write it like 175 psi or 12.1 bar."),
            )
        return value

    def _rated_pressure(self, typed: str) -> float:
        """A bare 175 can only be psi: as bar or kPa no sprinkler component is rated so."""
        text = plain(typed).strip()
        if text.upper().startswith("PN") and text[2:].strip().isdigit():
            return float(text[2:]) * 1e5
        try:
            return self._pressure("rated_pressure", typed)
        except MissingUnitError as error:
            form = self.conventions.decimal or proves(text) or POINT
            fitting = _rated_readings(with_point(text, form))
            if len(fitting) != 1:
                error.right = gettext("Write %(text)s psi or %(text)s bar.") % {"text": text}
                raise
            ((unit, value),) = fitting
            self.tally.bare_pressures[unit] += 1
            return value

    def _section(
        self, row: SheetRow, got: dict[str, Any], problems: list[Problem]
    ) -> dict[str, Any] | None:
        """Diameters and wall, once material and size are known, whatever else is wrong."""
        size: Size | None = got["nominal_size"]
        if not got["material"] or not size:
            return None
        if got["outside_diameter"] and not size.outside_diameter_mm:
            size = Size(size.nominal, got["outside_diameter"], size.wall_mm)
        typed = got["schedule"] or ""
        if not typed and is_ratio(ratio := self.mapping.cell(row.cells, "wall")):
            typed = ratio
        got["wall"] = got["wall"] or size.wall_mm or self._wall_elsewhere(row)
        wall = got["wall"]
        if not typed and not wall:
            typed = self._usual_schedule(got["material"])
        try:
            schedule = _schedule(
                typed,
                got["material"],
                size.nominal,
                _Words(self.answers.words),
                self.mapping.languages,
            )
            made = section(got["material"], size, schedule, got["wall"])
        except LeftOut:
            return None
        except CellError as error:
            problems.append(self._wall_problem(row, "schedule", error, got["material"]))
            return None
        except RecordError as error:
            name, cell_error = no_wall(got["material"], schedule, bool(wall), error)
            problems.append(self._wall_problem(row, name, cell_error, got["material"]))
            return None
        if schedule == "10" and size.nominal in ("8", "10") and not wall:
            self.tally.light_wall_rows += 1
        return made

    def _usual_schedule(self, material: str) -> str:
        """What a person said of rows that name none, for this material or for all."""
        of_all = self.answers.blank.get("schedule", "")
        is_of_steel = of_all in european_pipe() or of_all == USUAL
        if is_of_steel and material not in STEEL:
            of_all = ""
        return self.answers.blank.get(f"schedule:{material}", of_all)

    def _wall_elsewhere(self, row: SheetRow) -> float | None:
        for name in ("outside_diameter", "material", "schedule"):
            if typed := self.mapping.cell(row.cells, name):
                wall = wall_within(typed)
                if wall:
                    return wall
        return None

    def _wall_problem(self, row: SheetRow, name: str, error: CellError, material: str) -> Problem:
        typed = self.mapping.cell(row.cells, name)
        question = error.question
        if isinstance(error, UnknownWord) and typed:
            question = f"word:{question_key(name, typed, error)}"
            self.tally.add_word(name, typed, error, row.name)
        elif question == "blank:schedule":
            if self.answers.blank.get("schedule") and material not in STEEL:
                question = f"blank:schedule:{material}"
            self.tally.blanks[question.removeprefix("blank:")] += 1
        return CellError(error.wrong, error.right, question).at(self.mapping.label(name), typed)

    def _doubt_length(self, row: SheetRow, got: dict[str, Any], problems: list[Problem]) -> None:
        longest = DOUBTFUL_M.get(got["role"] or "")
        if not longest or not got["length"] or got["length"] <= longest:
            return
        typed = self.mapping.cell(row.cells, "length")
        if is_confirmed("length", typed, self.answers.words):
            return
        role = PipeRun.Role(got["role"]).label.lower()
        self._ask_whether_right(
            row,
            "length",
            gettext("no %(role)s is likely to be this long") % {"role": role},
            problems,
        )

    def _doubt_measures(self, row: SheetRow, got: dict[str, Any], problems: list[Problem]) -> None:
        """By the limits that forms and runs are held against."""
        for name, sense, known in (
            ("wall", WALL, {}),
            ("rated_pressure", PRESSURE, {}),
            ("design_pressure", PRESSURE, {RATED: got["rated_pressure"]}),
        ):
            typed = self.mapping.cell(row.cells, name)
            judged = judge(sense, got[name], known) if typed and got[name] else None
            if judged and not is_confirmed(name, typed, self.answers.words):
                causes = " ".join(str(cause) for cause in judged.limit.causes)
                wrong = f"{says(judged, 'si').rstrip('.')}. {causes}".rstrip(".")
                self._ask_whether_right(row, name, wrong, problems)

    def _ask_whether_right(
        self, row: SheetRow, name: str, wrong: str, problems: list[Problem]
    ) -> None:
        typed = self.mapping.cell(row.cells, name)
        right = gettext("Check the number and its unit; if it is right, say so.")
        error = UnknownWord(wrong, right, cells.Ask("", (typed,), ""))
        question = f"word:{word_key(name, typed)}"
        self.tally.add_word(name, typed, error, row.name)
        problems.append(CellError(wrong, right, question).at(self.mapping.label(name), typed))

    def _parsed(self, row: SheetRow, got: dict[str, Any], wall: dict[str, Any]) -> ParsedRow:
        installed: dates.Installed = got["installed"]
        return ParsedRow(
            number=row.number,
            sheet=row.sheet,
            run=GivenRun(
                role=got["role"],
                material=got["material"],
                length_m=got["length"],
                joint=got["joint"],
                installed_on=installed.on,
                installed_precision=installed.precision,
                **wall,
            ),
            remark=got["remarks"],
            row_key=got["row_key"],
            rated_pressure_gauge_pa=got["rated_pressure"],
            design_pressure_gauge_pa=got["design_pressure"],
            **{name: got[name] for name in SYSTEM_FIELDS[:6]},
        )


class _Words(dict[str, str]):
    """Answers as an argument that can be remembered by."""

    def __hash__(self) -> int:  # type: ignore[override]
        return hash(frozenset(self.items()))


@lru_cache(maxsize=4096)
def _schedule(
    typed: str, material: str, nominal: str, chosen: _Words, languages: frozenset[str]
) -> str:
    return read_schedule(typed, material, nominal=nominal, chosen=chosen, languages=languages)


@lru_cache(maxsize=4096)
def _rated_readings(typed: str) -> tuple[tuple[str, float], ...]:
    """The units in which a bare number would rate a sprinkler component."""
    low, high = RATED_PA
    fitting = []
    for unit in RATED_UNITS:
        with suppress(QuantityError):  # a number too large or too small for this unit
            value = parse_quantity(typed, "pressure", default_unit=unit, decimal=".").value_si
            fitting += [(unit, value)] if low <= value <= high else []
    return tuple(fitting)
