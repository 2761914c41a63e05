"""Workbooks that no spreadsheet program writes: small on the disk, without end in the memory."""

import zipfile
from collections.abc import Iterable, Iterator
from pathlib import Path

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
PACKAGE = "http://schemas.openxmlformats.org/package/2006/relationships"
WORKBOOK = (
    f'<workbook xmlns="{MAIN}" xmlns:r="{OFFICE}">'
    '<sheets><sheet name="S" sheetId="1" r:id="rId1"/></sheets></workbook>'
)
LINKS = (
    f'<Relationships xmlns="{PACKAGE}">'
    f'<Relationship Id="rId1" Type="{OFFICE}/worksheet" Target="worksheets/sheet1.xml"/>'
    "</Relationships>"
)
BEGIN, END = f'<worksheet xmlns="{MAIN}"><sheetData>', "</sheetData></worksheet>"
ONE_ROW = '<row r="1"><c r="A1"><v>1</v></c></row>'
NO_TEXTS = f'<sst xmlns="{MAIN}"/>'


def workbook(path: Path, sheet: str | Iterable[str], texts: str | Iterable[str] = NO_TEXTS) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as parts:
        parts.writestr("xl/workbook.xml", WORKBOOK)
        parts.writestr("xl/_rels/workbook.xml.rels", LINKS)
        for name, content in (("sharedStrings.xml", texts), ("worksheets/sheet1.xml", sheet)):
            with parts.open(f"xl/{name}", "w") as part:
                for piece in [content] if isinstance(content, str) else content:
                    part.write(piece.encode())
    return path


def repeated(before: str, piece: str, times: int, after: str = "") -> Iterator[str]:
    yield before
    for _ in range(times // 1000):
        yield piece * 1000
    yield after


def many_texts(path: Path) -> Path:
    texts = repeated(f'<sst xmlns="{MAIN}">', "<si><t>a</t></si>", 2_000_000, "</sst>")
    return workbook(path, BEGIN + ONE_ROW + END, texts)


def many_cells(path: Path) -> Path:
    return workbook(path, repeated(BEGIN + "<row>", "<c/>", 20_000_000, "</row>" + END))


def many_rows(path: Path) -> Path:
    return workbook(path, repeated(BEGIN, "<row><c><v>1</v></c></row>", 1_000_000, END))


def far_corner(path: Path) -> Path:
    """No dimensions, and a cell where the last one can be."""
    far = '<row r="1048576"><c r="XFD1048576"><v>1</v></c></row>'
    return workbook(path, BEGIN + ONE_ROW + far + END)


def long_cell(path: Path) -> Path:
    begin = BEGIN + '<row><c t="inlineStr"><is><t>'
    return workbook(path, repeated(begin, "x", 380_000_000, "</t></is></c></row>" + END))


def long_attribute(path: Path) -> Path:
    return workbook(path, repeated(BEGIN + '<row x="', "y", 100_000_000, '"></row>' + END))


def entities(path: Path) -> Path:
    inner = "".join(
        f'<!ENTITY {b} "&{a};&{a};&{a};&{a};">' for a, b in zip("abcd", "bcde", strict=True)
    )
    head = f'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "aaaaaaaaaa">{inner}]>'
    cell = '<row><c t="inlineStr"><is><t>&e;</t></is></c></row>'
    return workbook(path, head + BEGIN + cell + END)


def deep(path: Path) -> Path:
    return workbook(path, repeated(BEGIN, "<a>", 5_000_000))


def many_merged(path: Path) -> Path:
    begin = BEGIN + ONE_ROW + "</sheetData><mergeCells>"
    merged = '<mergeCell ref="A1:XFD1048576"/>'
    return workbook(path, repeated(begin, merged, 500_000, "</mergeCells></worksheet>"))


HOSTILE = {
    "texts": (many_texts, "more texts than are read"),
    "cells": (many_cells, "more cells than are read|longer than"),
    "rows": (many_rows, "over 250,000 rows"),
    "corner": (far_corner, "column 16384"),
    "long cell": (long_cell, "a cell of over"),
    "attribute": (long_attribute, "a cell without end"),
    "entities": (entities, "entities of its own"),
    "deep": (deep, "damaged"),
    "merged": (many_merged, "(too many|more) merged cells"),
}


def several(path: Path, sheets: dict[str, Iterator[list[str]]]) -> Path:
    """A workbook of many sheets with texts in their cells."""
    names = list(sheets)
    tabs = "".join(
        f'<sheet name="{name}" sheetId="{at}" r:id="rId{at}"/>' for at, name in enumerate(names, 1)
    )
    links = "".join(
        f'<Relationship Id="rId{at}" Type="{OFFICE}/worksheet" Target="worksheets/s{at}.xml"/>'
        for at in range(1, len(names) + 1)
    )
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as parts:
        begin = f'<workbook xmlns="{MAIN}" xmlns:r="{OFFICE}"><sheets>'
        parts.writestr("xl/workbook.xml", f"{begin}{tabs}</sheets></workbook>")
        parts.writestr(
            "xl/_rels/workbook.xml.rels",
            f'<Relationships xmlns="{PACKAGE}">{links}</Relationships>',
        )
        for at, rows in enumerate(sheets.values(), 1):
            with parts.open(f"xl/worksheets/s{at}.xml", "w") as part:
                part.write(BEGIN.encode())
                for row in rows:
                    cells = "".join(f'<c t="inlineStr"><is><t>{c}</t></is></c>' for c in row)
                    part.write(f"<row>{cells}</row>".encode())
                part.write(END.encode())
    return path


LONG = "y" * 1_900


def many_attributes(path: Path) -> Path:
    def components():
        yield ["Name", "Description", "InstallationDate", "Space", "TagNumber"]
        yield ["P-1", "riser", "2001", "Mill", "T-1"]

    def attributes():
        yield ["Name", "SheetName", "RowName", "Value", "Unit"]
        for at in range(150_000):
            yield [f"A {at % 5}", "Component", f"P-{at}", f"{at} {LONG}", "m"]

    return several(path, {"Component": components(), "Attribute": attributes()})


def many_systems(path: Path) -> Path:
    def systems():
        yield ["Tag", "System type", "Site", "Installed"]
        for at in range(100_000):
            yield [f"T-{at}", "wet", f"{at} {LONG}", "2001"]

    def pipe():
        yield ["System tag", "Pipe role", "Material", "Schedule", "Nominal size", "Length (m)"]
        yield from (["T-1", "riser", "black steel", "40", "4", "9"] for _ in range(10))

    return several(path, {"Systems": systems(), "Pipe": pipe()})


# On a slow machine time runs out first: either is a refusal.
SEVERAL = {
    "attributes": (many_attributes, "over 120,000 attributes|longer than 20 seconds"),
    "systems": (many_systems, "^10 rows$"),
}
