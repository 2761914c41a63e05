"""Where a table begins and what its columns are, on sheets as different as real ones are."""

import pytest
from openpyxl import Workbook

from registry.imports.answers import Answers
from registry.imports.cells import read_word
from registry.imports.problems import ImportFileError
from registry.imports.table import open_table

PLAIN = ["Site", "System tag", "Type", "Pipe role", "Material", "Size", "Length (m)", "Installed"]
ROW = ["Pier", "P-1", "wet", "riser", "black steel", "4", 12.5, 2001]


def look(path, **answers):
    with open_table(path, Answers(**answers)) as table:
        rows = list(table.rows())
        names = {one.key: one.name for one in table.mapping.fields if one.name}
        return table, names, rows


def write(tmp_path, *sheets, merged=()):
    """Each sheet is a name and its rows; `merged` are ranges of the first."""
    book = Workbook()
    book.remove(book.active)
    for name, rows in sheets:
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    for cells in merged:
        book.worksheets[0].merge_cells(cells)
    book.save(tmp_path / "register.xlsx")
    return tmp_path / "register.xlsx"


def test_a_title_and_lines_above_are_no_headings(tmp_path):
    path = write(
        tmp_path, ("A", [["Sprinkler list of the Pier"], ["printed", "3 May"], PLAIN, ROW])
    )
    table, names, rows = look(path)
    assert (table.layout.header_row, len(rows)) == (3, 1)
    assert set(names) == set(PLAIN)
    assert "Sprinkler list of the Pier" in table.layout.titles


def test_headings_of_two_lines_and_merged_cells_are_read_together(tmp_path):
    path = write(
        tmp_path,
        ("A", [["Site", "System", None, "Pipe", None, None, None, "Installed"],
               [None, "no", "type", "role", "material", "size", "length", None],
               ["Pier", "P-1", "wet", "riser", "black steel", "4", "12.5 m", "2001"]]),
        merged=("A1:A2", "H1:H2", "B1:C1", "D1:G1"),
    )  # fmt: skip
    _, names, rows = look(path)
    assert list(names.values()) == ["site", "tag", "kind", "role", "material", "nominal_size",
                                    "length", "installed"]  # fmt: skip
    assert len(rows) == 1


def test_a_second_line_of_units_belongs_to_the_headings(tmp_path):
    heads = [text.replace(" (m)", "") for text in PLAIN]
    path = write(tmp_path, ("A", [heads, [None, None, None, None, None, "DN", "m"], ROW]))
    table, _, rows = look(path)
    assert table.mapping.units == {"nominal_size": "DN", "length": "m"}
    assert len(rows) == 1


def test_totals_repeated_headings_and_lines_of_text_are_passed_over_and_told(tmp_path):
    total = ["Total", None, None, None, None, None, 12.5]
    rows = [PLAIN, ROW, total, ["Second page"], PLAIN, ROW, [None] * 5 + ["Summe", 25]]
    table, _, found = look(write(tmp_path, ("A", rows)))
    assert len(found) == 2
    assert table.body.passed.counts == {"total": 2, "line": 1, "heading": 1}
    assert "“Second page”" in table.body.passed.examples["line"][0]


def test_sheets_with_the_same_columns_are_one_table_and_their_names_the_buildings(tmp_path):
    turned = [PLAIN[1], PLAIN[0], *PLAIN[2:]]
    path = write(
        tmp_path,
        ("Mill", [["Mill"], PLAIN, ROW]),
        ("Notes", [["call the owner", "before"], ["x", "y"]]),
        ("Shed", [turned, ["P-2", *ROW[:1], *ROW[2:]]]),
    )
    table, names, rows = look(path)
    assert table.layout.sheet_names == ["Mill", "Shed"]
    assert names["(name of the sheet)"] == "building"
    cells = [[table.mapping.cell(row.cells, name) for name in ("site", "tag", "building")]
             for row in rows]  # fmt: skip
    assert cells == [["Pier", "P-1", "Mill"], ["Pier", "P-2", "Shed"]]
    assert [row.name for row in rows] == ["Mill 3", "Shed 2"]


def test_a_sheet_and_a_row_can_be_chosen(tmp_path):
    path = write(tmp_path, ("A", [PLAIN, ROW]), ("B", [["x"], PLAIN[::-1], ROW[::-1]]))
    table, _, rows = look(path, sheet="b", header_row=2)
    assert (table.layout.sheet_names, len(rows)) == (["B"], 1)
    with pytest.raises(ImportFileError, match="No sheet is called “C”. The file has “A”, “B”."):
        look(path, sheet="C")


def test_ditto_marks_repeat_the_cell_above(tmp_path):
    path = write(tmp_path, ("A", [PLAIN, ROW, ['"', '"', "do.", "branch", "idem", "1", 7, "″"]]))
    table, _, rows = look(path)
    assert [table.mapping.cell(rows[1].cells, n) for n in ("site", "tag", "kind", "material")] == [
        "Pier", "P-1", "wet", "black steel",
    ]  # fmt: skip
    assert table.body.passed.dittos == 5


def test_empty_names_repeat_those_above_only_where_somebody_said_so(tmp_path):
    below = [None, None, None, "branch", "black steel", "1", 7, None]
    path = write(tmp_path, ("A", [PLAIN, ROW, below]))
    table, _, rows = look(path)
    assert table.mapping.cell(rows[1].cells, "tag") == ""
    table, _, rows = look(path, blanks_above="repeat")
    assert [table.mapping.cell(rows[1].cells, n) for n in ("site", "tag", "kind")] == [
        "Pier", "P-1", "wet",
    ]  # fmt: skip


def test_a_file_of_unknown_headings_is_no_dead_end(tmp_path):
    heads = ["q1", "q2", "q3", "q4", "q5", "q6", "q7", "q8"]
    path = write(tmp_path, ("A", [heads, ROW]))
    _, names, _ = look(path)
    assert names == {}
    columns = dict(zip(heads, ["site", "tag", "kind", "role", "material", "nominal_size", "length",
                               "installed"], strict=True))  # fmt: skip
    _, names, rows = look(path, columns=columns)
    assert (names, len(rows)) == (columns, 1)
    with pytest.raises(ImportFileError, match="No column is called “q9”"):
        look(path, columns={"q9": "site"})


def test_what_a_free_column_holds_is_proposed_for_what_is_missing(tmp_path):
    heads = ["Site", "System tag", "zzz", "Pipe role", "yyy", "Size", "Length (m)", "Installed"]
    table, _, _ = look(write(tmp_path, ("A", [heads, ROW])))
    proposed = {one.key: one.proposed for one in table.mapping.fields if one.proposed}
    assert proposed == {"zzz": "kind", "yyy": "material"}


@pytest.mark.parametrize(("other", "meaning"), [("Type", "tag"), ("Tag", "kind")])
def test_a_heading_with_two_meanings_has_one_where_the_other_is_taken(tmp_path, other, meaning):
    heads = ["Site", "System", other, *PLAIN[3:]]
    _, names, _ = look(write(tmp_path, ("A", [heads, ROW])))
    assert names["System"] == meaning


def test_a_heading_with_two_meanings_is_asked_else(tmp_path):
    heads = ["Site", "System", *PLAIN[3:]]
    table, names, _ = look(write(tmp_path, ("A", [heads, ["Pier", "wet", *ROW[3:]]])))
    assert "System" not in names
    asked = next(one for one in table.mapping.fields if one.key == "System")
    assert (asked.how, set(asked.may_be), asked.proposed) == ("asked", {"tag", "kind"}, "kind")


def many(heads, *cells):
    """A sheet with this row five times, which is enough to see what its columns hold."""
    return ("A", [heads, *[list(cells)] * 5])


def test_words_of_the_trade_in_the_only_free_column_say_what_it_holds(tmp_path):
    heads = ["Site", "System tag", "zzz", "Pipe role", "yyy", "Size", "Length (m)", "Installed"]
    row = [*ROW[:4], "black steel 3.2 mm", *ROW[5:]]
    table, names, _ = look(write(tmp_path, many(heads, *row)))
    assert (names["zzz"], names["yyy"]) == ("kind", "material")
    shown = {one.key: (one.how, one.why) for one in table.mapping.fields}
    assert shown["zzz"] == ("taken", "no heading names the type, and these cells hold it")


def test_two_columns_of_the_same_words_are_asked_about(tmp_path):
    heads = ["Site", "System tag", "zzz", "Pipe role", "yyy", "Size", "Length (m)", "Installed"]
    row = [*ROW[:2], "copper", "riser", "black steel", *ROW[5:]]
    _, names, _ = look(write(tmp_path, many(heads, *row)))
    assert "material" not in names.values()


@pytest.mark.parametrize(("cell", "taken"), [("6 m", True), ("20 ft", True), ("6", False)])
def test_lengths_with_their_unit_need_no_heading(tmp_path, cell, taken):
    heads = [*PLAIN[:6], "xxx", "Installed"]
    _, names, _ = look(write(tmp_path, many(heads, *ROW[:6], cell, 2001)))
    assert (names.get("xxx") == "length") is taken


def test_a_column_of_days_is_no_installation_unless_its_heading_says_so(tmp_path):
    for heading, taken in (("Painted", False), ("Pipe was installed in", True)):
        _, names, _ = look(write(tmp_path, many([*PLAIN[:7], heading], *ROW[:7], "14/05/2004")))
        assert ("installed" in names.values()) is taken


def test_a_line_of_units_may_hold_the_pattern_of_days_and_repeat_merged_headings(tmp_path):
    heads = [text.replace(" (m)", "") for text in PLAIN]
    for day in ("[TT.MM.JJJJ]", "dd/mm/yyyy", "pvm"):
        units = [*heads[:5], "DN", "m", day]
        table, names, rows = look(
            write(tmp_path, ("A", [["Pipes"], ["printed 3/2024"], heads, units, ROW]))
        )
        assert set(names) == set(heads)
        assert table.mapping.units == {"nominal_size": "DN", "length": "m"}
        assert len(rows) == 1


def test_a_sheet_without_the_columns_that_not_every_row_needs_is_read_too(tmp_path):
    heads = [*PLAIN, "Building", "Gas supply"]
    path = write(tmp_path, ("A", [heads, [*ROW, "North", "compressor"]]), ("B", [PLAIN, ROW, ROW]))
    _, _, rows = look(path)
    assert [(row.sheet, row.cells[9]) for row in rows] == [
        ("A", "compressor"),
        ("B", ""),
        ("B", ""),
    ]


def test_a_total_that_counts_the_systems_is_no_row(tmp_path):
    total = ["Total", "12 systems", None, None, None, None, 400, None]
    _, _, rows = look(write(tmp_path, ("A", [PLAIN, ROW, total])))
    assert len(rows) == 1


def test_the_line_above_a_block_says_its_type_where_no_column_does(tmp_path):
    heads = [*PLAIN[:2], *PLAIN[3:]]
    row = [*ROW[:2], *ROW[3:]]
    blocks = [["North hall - System 1 - wet"], heads, row, row,
              ["South hall - System 2 - wet with glycol"], heads, row, row]  # fmt: skip
    _, names, rows = look(write(tmp_path, ("A", blocks)))
    assert names["(line above the rows)"] == "kind"
    assert [read_word("kind", row.cells[-2]) for row in rows] == ["wet"] * 2 + ["antifreeze"] * 2


def test_a_title_that_says_no_type_is_not_taken_for_one(tmp_path):
    heads, row = [*PLAIN[:2], *PLAIN[3:]], [*ROW[:2], *ROW[3:]]
    for title in ("Pipes of the pier - all systems", "List - wet - dry", "A - hall"):
        _, names, _ = look(write(tmp_path, ("A", [[title], heads, row, row, row])))
        assert "kind" not in names.values()
