"""Column headings as people write them -> the columns of the book."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from registry.imports.problems import ImportFileError, Problem


@dataclass(frozen=True)
class Column:
    name: str
    label: str
    synonyms: tuple[str, ...]
    is_required: bool = False


COLUMNS = (
    Column("site", "Site",
           ("site", "site name", "property", "facility", "location", "premises"), True),
    Column("building", "Building", ("building", "building name", "bldg", "block", "structure")),
    Column("tag", "System tag",
           ("system tag", "tag", "system", "system no", "system number", "system id", "system name",
            "system ref", "riser no", "riser tag", "asset tag"), True),
    Column("kind", "Type",
           ("type", "system type", "type of system", "kind", "system kind", "kind of system"),
           True),
    Column("hazard", "Hazard",
           ("hazard", "hazard class", "hazard group", "occupancy hazard", "occupancy")),
    Column("role", "Pipe role", ("pipe role", "role", "pipe", "pipe use", "part", "section"), True),
    Column("material", "Material", ("material", "pipe material", "mat", "pipe mat", "mat l"), True),
    Column("schedule", "Schedule", ("schedule", "sch", "pipe schedule", "sched", "wall class")),
    Column("nominal_size", "Nominal size",
           ("nominal size", "size", "pipe size", "nominal diameter", "nps", "dn", "diameter",
            "nom size", "nominal bore"), True),
    Column("wall", "Wall", ("wall", "wall thickness", "thickness", "wt")),
    Column("length", "Length", ("length", "pipe length", "run length", "len"), True),
    Column("joint", "Joint", ("joint", "joints", "joint type", "jointing")),
    Column("installed", "Installed",
           ("installed", "installed on", "install date", "installation date", "date installed",
            "year installed", "installation year", "year", "commissioned"), True),
    Column("gas_supply", "Gas supply",
           ("gas supply", "nitrogen", "nitrogen supply", "n2", "n2 supply", "inerting supply")),
    Column("rated_pressure", "Rated pressure",
           ("rated pressure", "rated working pressure", "working pressure", "max pressure",
            "maximum pressure", "pressure rating", "mwp")),
    Column("design_pressure", "Design pressure", ("design pressure",)),
    Column("remarks", "Remarks", ("remarks", "remark", "notes", "note", "comments", "comment")),
)  # fmt: skip
BY_NAME = {column.name: column for column in COLUMNS}
LABELS = {column.name: column.label for column in COLUMNS}
BY_SYNONYM = {synonym: column.name for column in COLUMNS for synonym in column.synonyms}

PROBLEM, RIGHT = "Problem", "What would be right"
MENDING = {"problem", "what would be right"}  # our own additions to a file that came back
UNIT_DIMENSIONS = {"length", "wall", "rated_pressure", "design_pressure"}


@dataclass
class Headings:
    """Where each column of the book stands in the file, and what else the file has."""

    typed: list[str]
    position: dict[str, int] = field(default_factory=dict)
    units: dict[str, str] = field(default_factory=dict)
    unknown: list[str] = field(default_factory=list)

    def cell(self, cells: Sequence[str], name: str) -> str:
        at = self.position.get(name)
        return cells[at].strip() if at is not None and at < len(cells) else ""

    def label(self, name: str) -> str:
        """The column as the file calls it, so that a person finds it again."""
        at = self.position.get(name)
        return self.typed[at].strip() if at is not None else LABELS[name]

    def problem(self, cells: Sequence[str], name: str, wrong: str, right: str) -> Problem:
        return Problem(self.label(name), self.cell(cells, name), wrong, right)

    def kept(self, cells: Sequence[str]) -> list[str]:
        """The row without the two columns this program added, and as long as the headings."""
        cells = list(cells) + [""] * (len(self.typed) - len(cells))
        return [cell for at, cell in enumerate(cells) if at not in self.mending]

    @property
    def mending(self) -> set[int]:
        return {at for at, text in enumerate(self.typed) if _words(text) in MENDING}


def match_headings(typed: Sequence[str]) -> Headings:
    """Raises ImportFileError when a column no row can do without is missing, or one is twice."""
    found = Headings(list(typed))
    for at, text in enumerate(typed):
        name, unit = _match(text)
        if name is None:
            if text.strip() and at not in found.mending:
                found.unknown.append(text.strip())
            continue
        if name in found.position:
            raise ImportFileError(
                f"Two columns mean {LABELS[name]}: “{typed[found.position[name]].strip()}” and "
                f"“{text.strip()}”. Keep one of them."
            )
        found.position[name] = at
        if unit and name in UNIT_DIMENSIONS:
            found.units[name] = unit
    _require(found)
    return found


def _match(text: str) -> tuple[str | None, str]:
    unit = re.search(r"[(\[](?P<unit>[^)\]]{1,12})[)\]]\s*$", text)
    bare = text[: unit.start()] if unit else text
    return BY_SYNONYM.get(_words(bare)), unit["unit"].strip() if unit else ""


def _words(text: str) -> str:
    return re.sub(r"[^a-z0-9]+", " ", text.lower()).strip()


def _require(found: Headings) -> None:
    missing = [c.label for c in COLUMNS if c.is_required and c.name not in found.position]
    if missing:
        has = ", ".join(f"“{text.strip()}”" for text in found.typed if text.strip()) or "none"
        raise ImportFileError(
            f"The first row must name the columns; missing: {', '.join(missing)}. Found: {has}."
        )
