"""The register as a workbook: the sheet that imports again, and sheets in the manner of COBie.

COBie (NBIMS-US V3, chapter 4.2) hands over a building as sheets of facilities, systems, components
and attributes; names of sheets and columns here are from memory, check the standard.
"""

from collections.abc import Iterable, Iterator
from datetime import datetime
from io import BytesIO

from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell

from reports.register.rows import COLUMNS, Line

SHEET = "Register"
BY_COLUMN = {name: at for at, name in enumerate(COLUMNS)}
SHEETS = {
    "Facility": ("Name", "CreatedBy", "CreatedOn", "Category", "ProjectName", "SiteName",
                 "Description"),
    "System": ("Name", "CreatedBy", "CreatedOn", "Category", "ComponentNames", "ExternalIdentifier",
               "Description"),
    "Component": ("Name", "CreatedBy", "CreatedOn", "TypeName", "Space", "Description",
                  "InstallationDate", "TagNumber"),
    "Attribute": ("Name", "CreatedBy", "CreatedOn", "Category", "SheetName", "RowName", "Value",
                  "Unit"),
}  # fmt: skip
ATTRIBUTES = (
    ("Pipe role", ""), ("Material", ""), ("Schedule", ""), ("Nominal size", ""),
    ("Outside diameter (mm)", "mm"), ("Wall (mm)", "mm"), ("Length (m)", "m"), ("Joint", ""),
)  # fmt: skip

OF_THE_SYSTEM = (
    ("Hazard", ""), ("Gas supply", ""), ("Rated pressure (bar)", "bar"),
    ("Design pressure (bar)", "bar"),
)  # fmt: skip


def register_workbook(lines: Iterable[Line], *, made_by: str, now: datetime) -> bytes:
    """Texts stay texts, whatever they look like: a tag such as MAR-1 is no day."""
    book = Workbook(write_only=True)
    register = book.create_sheet(SHEET)
    register.append(list(COLUMNS))
    others = {name: book.create_sheet(name) for name in SHEETS}
    for name, columns in SHEETS.items():
        others[name].append(list(columns))
    stamp = [made_by, f"{now:%Y-%m-%dT%H:%M:%S}"]
    seen: set[tuple[str, ...]] = set()
    for number, line in enumerate(lines, start=1):
        register.append([_cell(register, cell) for cell in line])
        for name, row in _cobie(line, number, stamp, seen):
            others[name].append([_cell(others[name], cell) for cell in row])
    to = BytesIO()
    book.save(to)
    return to.getvalue()


def _cell(sheet, value: str | float):
    cell = WriteOnlyCell(sheet, value=value if value != "" else None)
    if isinstance(value, str):
        cell.data_type = "s"
    return cell


def _cobie(
    line: Line, number: int, stamp: list[str], seen: set[tuple[str, ...]]
) -> Iterator[tuple[str, list[str | float]]]:
    site, building, tag = (str(line[at]) for at in range(3))
    place, system = building or site, f"{site} {tag}"
    if (place, site) not in seen:
        seen.add((place, site))
        yield "Facility", [place, *stamp, "n/a", "n/a", site, "n/a"]
    component = f"{system} pipe {number}"
    if (system,) not in seen:
        seen.add((system,))
        yield from _attributes(line, OF_THE_SYSTEM, "System", system, stamp)
    yield "System", [system, *stamp, _of(line, "Type"), component, tag, "Sprinkler system"]
    yield "Component", [
        component, *stamp, f"{_of(line, 'Material')} {_of(line, 'Nominal size')}", place,
        _of(line, "Pipe role"), _of(line, "Installed"), tag,
    ]  # fmt: skip
    yield from _attributes(line, ATTRIBUTES, "Component", component, stamp)


def _attributes(
    line: Line, named: tuple[tuple[str, str], ...], sheet: str, row: str, stamp: list[str]
) -> Iterator[tuple[str, list[str | float]]]:
    for name, unit in named:
        if (value := line[BY_COLUMN[name]]) != "":
            label = name.split(" (")[0]
            yield "Attribute", [label, *stamp, "n/a", sheet, row, value, unit or "n/a"]


def _of(line: Line, name: str) -> str:
    return str(line[BY_COLUMN[name]])
