import zipfile
from datetime import date, datetime

import pytest
from openpyxl import Workbook

from registry.imports.problems import ImportFileError
from registry.imports.reading import count_rows, limits, open_book, rows
from registry.imports.reading.limits import TooSlow
from registry.imports.text import DAY, NUMBER, plain


def read(path) -> tuple[list[tuple[int, list[str]]], list[str]]:
    with open_book(path) as book:
        (sheet,) = book.sheets
        return [(row.number, row.cells) for row in sheet.rows()], book.notices


def put(tmp_path, content: bytes, name: str = "register.csv"):
    path = tmp_path / name
    path.write_bytes(content)
    return path


TEXT = "Site,Tag\nCafé,A-1\n"


@pytest.mark.parametrize(
    "content",
    [
        TEXT.encode(),
        TEXT.encode("utf-8-sig"),
        TEXT.encode("utf-16"),
        TEXT.encode("utf-16-le"),
        TEXT.replace(",", ";").encode(),
        TEXT.replace(",", "\t").encode(),
        TEXT.replace("\n", "\r\n").encode(),
    ],
)
def test_csv_is_read_in_the_encodings_and_delimiters_people_have(tmp_path, content):
    found, notices = read(put(tmp_path, content))
    assert found == [(1, ["Site", "Tag"]), (2, ["Café", "A-1"])]
    assert notices == []


@pytest.mark.parametrize(
    ("encoding", "name"),
    [("cp1252", "Windows-1252"), ("cp850", "DOS"), ("mac_roman", "Macintosh")],
)
def test_text_that_is_not_unicode_is_read_with_a_notice(tmp_path, encoding, name):
    text = "Gebäude;Länge;Größe\nMühle;12,5;ö\nRör våt;3,5;ø\n"
    if encoding == "mac_roman":
        text = "Bâtiment;Longueur;à\nÉtage élevé;12,5;é\nfonderie près;3,5;è\n"
    found, notices = read(put(tmp_path, text.encode(encoding)))
    assert found[1][1] == text.split("\n")[1].split(";")
    assert name in notices[0]


def test_the_delimiter_is_that_of_most_lines_and_not_of_a_title(tmp_path):
    text = "Register, printed on 3 May, by hand, twice\nSite;Tag;Length\nA;B;1,5\nA;C;2,5\n"
    assert read(put(tmp_path, text.encode()))[0][2] == (3, ["A", "B", "1,5"])


def test_a_first_line_may_say_the_delimiter(tmp_path):
    assert read(put(tmp_path, b"sep=;\na,b;c\n"))[0] == [(2, ["a,b", "c"])]


def test_empty_rows_are_passed_over_and_numbers_stay_those_of_the_spreadsheet(tmp_path):
    found, _ = read(put(tmp_path, b'Site,Tag\n\n,,\nA,"two\nlines"\nB,C\n'))
    assert found[1:] == [(4, ["A", "two\nlines"]), (5, ["B", "C"])]


def test_control_characters_do_not_pass(tmp_path):
    assert read(put(tmp_path, b"a\x02,b\x1b\n"))[0] == [(1, ["a", "b"])]


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "empty"),
        (b"\xd0\xcf\x11\xe0rest", "old .xls"),
        (b"%PDF-1.4", "PDF"),
        (b"<html><table>", "web page"),
        (b"PK\x03\x04rest", "damaged"),
        (b"a,b\n" + b"x" * 3000 + b",1\n", "3,000 characters"),
        (b"a,b\n1\x00,2\n", "not text"),
        (b"a\n" + b"1," * 150 + b"2\n", "151 columns"),
        (b'a,b\n"' + b"x" * 200_000 + b'",1\n', "(?i)row 2"),
    ],
)
def test_files_that_are_no_table_are_refused_with_what_to_do(tmp_path, content, words):
    with pytest.raises(ImportFileError, match=words):
        read(put(tmp_path, content))


def test_a_file_that_is_not_there_is_said_so(tmp_path):
    with pytest.raises(ImportFileError, match="nowhere.csv cannot be opened"):
        read(tmp_path / "nowhere.csv")


def test_too_many_rows_are_refused_and_not_cut_short(tmp_path, monkeypatch):
    monkeypatch.setattr(rows, "MAX_ROWS", 3)
    with pytest.raises(ImportFileError, match="over 3 rows"):
        read(put(tmp_path, b"a\n" + b"1\n" * 4))
    assert count_rows(put(tmp_path, b"a\n" + b"1\n" * 3), up_to=10) == 4


def workbook(tmp_path, *lines, change=None):
    book = Workbook()
    for line in lines:
        book.active.append(line)
    if change:
        change(book)
    book.save(tmp_path / "register.xlsx")
    return tmp_path / "register.xlsx"


def test_a_workbook_gives_the_same_text_as_a_csv_and_says_what_was_number_or_day(tmp_path):
    path = workbook(
        tmp_path,
        ["Site", "Size", "Length", "Installed", "Built"],
        ["Café", 4, 12.5, datetime(1998, 5, 26), date(1999, 1, 2)],
        [],
        ["B", 1.25, 7.0, 1998, True],
    )
    found, _ = read(path)
    assert [[plain(cell) for cell in cells] for _, cells in found] == [
        ["Site", "Size", "Length", "Installed", "Built"],
        ["Café", "4", "12.5", "1998-05-26", "1999-01-02"],
        ["B", "1.25", "7", "1998", "yes"],
    ]
    assert [cell[0] for cell in found[1][1][1:]] == [NUMBER, NUMBER, DAY, DAY]
    assert [number for number, _ in found] == [1, 2, 4]


def test_the_format_of_a_number_may_hold_its_unit_and_its_zeros(tmp_path):
    def change(book):
        book.active["A2"].number_format = '0.0" m"'
        book.active["B2"].number_format = "000"
        book.active["C2"].number_format = "#,##0.00"

    found, _ = read(workbook(tmp_path, ["Length", "Tag", "Wall"], [12.5, 7, 3.2], change=change))
    assert [plain(cell) for cell in found[1][1]] == ["12.5 m", "007", "3.2"]


def test_merged_cells_hold_their_text_in_each_of_them(tmp_path):
    def change(book):
        book.active.merge_cells("A1:C1")
        book.active.merge_cells("A3:A4")

    lines = [["Title"], ["a", "b", "c"], ["Mill", "1", "2"], [None, "3", "4"]]
    found, _ = read(workbook(tmp_path, *lines, change=change))
    assert [cells for _, cells in found] == [
        ["Title", "Title", "Title"],
        ["a", "b", "c"],
        ["Mill", "1", "2"],
        ["Mill", "3", "4"],
    ]


def test_an_empty_cell_in_the_dress_of_a_day_is_no_day_of_1900(tmp_path):
    def change(book):
        book.active["A2"].number_format = "yyyy-mm-dd"

    assert read(workbook(tmp_path, ["Installed"], [0], change=change))[0][1][1] == [
        DAY + "1900-01-00"
    ]


def test_all_sheets_are_offered_and_hidden_ones_named(tmp_path):
    book = Workbook()
    book.active.append(["Site"])
    book.create_sheet("Other").append(["x"])
    book.create_sheet("Secret").sheet_state = "hidden"
    book.save(tmp_path / "three.xlsx")
    with open_book(tmp_path / "three.xlsx") as opened:
        assert [sheet.name for sheet in opened.sheets] == ["Sheet", "Other"]
        assert "“Secret”" in opened.notices[0]


@pytest.mark.parametrize(
    ("part", "words"),
    [
        ("content.xml", "OpenDocument"),
        ("xl/workbook.bin", "xlsb"),
        ("letter.txt", "workbook cannot be read"),
    ],
)
def test_a_zip_that_is_no_workbook_is_refused(tmp_path, part, words):
    with zipfile.ZipFile(tmp_path / "letters.xlsx", "w") as parts:
        parts.writestr(part, "Dear all")
    with pytest.raises(ImportFileError, match=words):
        read(tmp_path / "letters.xlsx")


def test_what_takes_too_long_says_so_apart_so_that_a_worker_can_take_it(tmp_path, monkeypatch):
    clock = iter(range(0, 10_000, 10))
    monkeypatch.setattr(limits.time, "thread_time", lambda: next(clock))
    path = workbook(tmp_path, ["a"], ["b"])
    with pytest.raises(TooSlow, match="longer than 4 seconds"), open_book(path, seconds=4):
        pass
