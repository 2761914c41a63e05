"""Handover sheets in the manner of COBie (NBIMS-US V3, chapter 4.2), as one table of pipe runs.

Components are the runs, attributes their sizes, systems their tags. Names of sheets and columns
are from memory; check the standard.
"""

from collections.abc import Iterator, Sequence

from django.utils.translation import gettext

from registry.imports.problems import ImportFileError
from registry.imports.reading import Book, Sheet, SheetRow
from registry.imports.text import fold, plain

NAME = "Component with Attribute"
NEEDED = ("component", "attribute")
MOST = 120_000  # attributes that are held, some ten for each run of pipe
LONGEST = 200  # characters of a text that is held
NOT_SAID = {"", "n/a"}
Rows = list[dict[str, str]]


def handover_sheet(book: Book) -> Sheet | None:
    """The table, where the book has sheets of components and of attributes."""
    sheets = {fold(sheet.name): sheet for sheet in book.sheets}
    if not all(name in sheets for name in NEEDED):
        return None
    attributes, units = _attributes(sheets["attribute"])
    labels = sorted({label for said in attributes.values() for label in said})
    systems = _systems(sheets.get("system"))
    facilities = {line["name"]: line.get("sitename", "") for line in _lines(sheets.get("facility"))}
    headings = [
        "Site",
        "Building",
        "System tag",
        "Type",
        "Pipe role",
        "Installed",
    ]
    headings += [f"{label} ({units[label]})" if units.get(label) else label for label in labels]

    def rows() -> Iterator[SheetRow]:
        yield SheetRow(1, headings)
        for number, line in enumerate(_lines(sheets["component"]), start=2):
            name = line.get("name", "")
            system, tag, kind = systems.get(name, ("", "", ""))
            said = attributes.get(("component", name), {}) | attributes.get(("system", system), {})
            place = line.get("space", "")
            site = facilities.get(place, "") or place
            yield SheetRow(number, [
                site, place if place != site else "", tag or line.get("tagnumber", ""), kind,
                line.get("description", ""), line.get("installationdate", ""),
                *(said.get(label, "") for label in labels),
            ])  # fmt: skip

    return Sheet(NAME, rows, False)


def _attributes(sheet: Sheet) -> tuple[dict[tuple[str, str], dict[str, str]], dict[str, str]]:
    """By sheet and row what is said of it, and the unit of each attribute that has but one."""
    found: dict[tuple[str, str], dict[str, str]] = {}
    units: dict[str, set[str]] = {}
    for count, line in enumerate(_lines(sheet), start=1):
        if count > MOST:
            raise ImportFileError(
                gettext(
                    "The handover sheets have over %(MOST)s attributes. Split the file by "
                    "system and import the parts."
                )
                % {"MOST": f"{MOST:,}"}
            )
        label = line.get("name", "")
        key = (fold(line.get("sheetname", "")), line.get("rowname", ""))
        found.setdefault(key, {})[label] = line.get("value", "")
        units.setdefault(label, set()).add(line.get("unit", ""))
    return found, {label: next(iter(said)) for label, said in units.items() if len(said) == 1}


def _systems(sheet: Sheet | None) -> dict[str, tuple[str, str, str]]:
    """By component: name, tag and kind of its system."""
    found: dict[str, tuple[str, str, str]] = {}
    for line in _lines(sheet):
        tag = line.get("externalidentifier", "") or line.get("name", "")
        for component in line.get("componentnames", "").split(","):
            if len(found) > MOST:
                break
            found[component.strip()] = (line.get("name", ""), tag, line.get("category", ""))
    return found


def _lines(sheet: Sheet | None) -> Iterator[dict[str, str]]:
    """Each row by its folded headings, what is not said left out."""
    names: Sequence[str] = ()
    for row in sheet.rows() if sheet else ():
        if not names:
            names = [fold(plain(cell)).replace(" ", "") for cell in row.cells]
            continue
        cells = {name: cell.strip()[:LONGEST] for name, cell in zip(names, row.cells, strict=False)}
        yield {name: cell for name, cell in cells.items() if plain(cell) not in NOT_SAID}


__all__ = ["handover_sheet"]
