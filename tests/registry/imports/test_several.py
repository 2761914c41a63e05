"""Sheets that make one register together."""

import pytest
from openpyxl import Workbook

from registry.models import System

SYSTEMS = [
    ["Tag", "System type", "Site", "Installed"],
    ["A-1", "Wet pipe", "Mill", 1999],
    ["A-2", "Dry pipe", "Kiln", 2004],
]
PIPE = [
    ["System tag", "Pipe role", "Material", "Schedule", "Nominal size", "Length (m)"],
    ["A-1", "riser", "black steel", 40, 4, 9],
    ["A-2", "riser", "galvanized steel", 10, 4, 11],
    ["A-9", "riser", "black steel", 40, 4, 12],
]


def write(folder, *sheets):
    book = Workbook()
    book.remove(book.active)
    for name, rows in sheets:
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    book.save(folder / "two.xlsx")
    return folder / "two.xlsx"


@pytest.mark.parametrize("order", [1, -1])
def test_systems_and_their_pipe_on_two_sheets_are_joined_by_the_tag(load, tmp_path, order):
    sheets = [("Systems", SYSTEMS), ("Pipe", PIPE)][::order]
    outcome = load(write(tmp_path, *sheets))
    assert (outcome.new, outcome.to_fix) == (2, 1)
    told = {system.tag: (system.kind, system.site.name) for system in System.objects.all()}
    assert told == {"A-1": ("wet", "Mill"), "A-2": ("dry", "Kiln")}
    assert any("“Systems” was joined by “System tag”" in one for one in outcome.notices)


def test_a_tag_that_the_sheet_beside_says_two_things_of_is_left_open_and_named(load, tmp_path):
    twice = [*SYSTEMS, ["A-2", "Wet pipe", "Forge", 2011]]
    outcome = load(write(tmp_path, ("Systems", twice), ("Pipe", PIPE)), dry=True)
    assert (outcome.new, outcome.to_fix) == (1, 2)
    assert any("It says two things of “A-2”" in one for one in outcome.notices)


def test_rows_to_fix_of_two_sheets_come_back_whole_on_one(load, tmp_path):
    outcome = load(write(tmp_path, ("Systems", SYSTEMS), ("Pipe", PIPE)))
    back = tmp_path / "fixed.csv"
    heading, row = outcome.fixed.splitlines()
    assert heading.startswith("\ufeffSystem tag,") or heading.startswith("System tag,")
    back.write_text(f"{heading}\n{row.replace(',12,,,,', ',12,Wet pipe,Mill,2001,')}\n", "utf-8")
    assert load(back).new == 1
