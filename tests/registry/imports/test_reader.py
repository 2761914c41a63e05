import zipfile
from datetime import date, datetime

import pytest
from openpyxl import Workbook

from registry.imports import reader
from registry.imports.problems import ImportFileError
from registry.imports.reader import count_rows, open_table


def read(path) -> tuple[list[str], list[tuple[int, list[str]]], list[str]]:
    with open_table(path) as table:
        return table.headings, [(row.number, row.cells) for row in table.rows], table.notices


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
        TEXT.replace(",", ";").encode(),
        TEXT.replace(",", "\t").encode(),
        TEXT.replace("\n", "\r\n").encode(),
    ],
)
def test_csv_is_read_in_the_encodings_and_delimiters_people_have(tmp_path, content):
    headings, rows, notices = read(put(tmp_path, content))
    assert headings == ["Site", "Tag"]
    assert rows == [(2, ["Café", "A-1"])]
    assert notices == []


def test_windows_text_is_read_with_a_notice(tmp_path):
    _, rows, notices = read(put(tmp_path, TEXT.encode("cp1252")))
    assert rows == [(2, ["Café", "A-1"])]
    assert "Windows-1252" in notices[0]


def test_empty_rows_are_passed_over_and_numbers_stay_those_of_the_spreadsheet(tmp_path):
    _, rows, _ = read(put(tmp_path, b'Site,Tag\n\n,,\nA,"two\nlines"\nB,C\n'))
    assert rows == [(4, ["A", "two\nlines"]), (5, ["B", "C"])]


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "empty"),
        (b"\xd0\xcf\x11\xe0rest", "old .xls"),
        (b"PK\x03\x04rest", "damaged"),
        (b"a,b\n" + b"x" * 3000 + b",1\n", "3,000 characters"),
        (b"a,b\n1\x00,2\n", "not text"),
        (b"a\n" + b"1," * 150 + b"2\n", "151 columns"),
        (b'a,b\n"' + b"x" * 200_000 + b'",1\n', "cannot be read at row 2"),
        (b"\x81\x8d\x8f", "not text"),
    ],
)
def test_files_that_are_no_table_are_refused_with_what_to_do(tmp_path, content, words):
    with pytest.raises(ImportFileError, match=words):
        read(put(tmp_path, content))


def test_a_file_that_is_not_there_is_said_so(tmp_path):
    with pytest.raises(ImportFileError, match="nowhere.csv cannot be opened"):
        read(tmp_path / "nowhere.csv")


def test_too_many_rows_are_refused_and_not_cut_short(tmp_path, monkeypatch):
    monkeypatch.setattr(reader, "MAX_ROWS", 3)
    with pytest.raises(ImportFileError, match="over 3 rows"):
        read(put(tmp_path, b"a\n" + b"1\n" * 4))
    assert count_rows(put(tmp_path, b"a\n" + b"1\n" * 3), up_to=10) == 3


def workbook(tmp_path, *rows):
    book = Workbook()
    for row in rows:
        book.active.append(row)
    book.save(tmp_path / "register.xlsx")
    return tmp_path / "register.xlsx"


def test_a_workbook_gives_the_same_text_as_a_csv(tmp_path):
    path = workbook(
        tmp_path,
        ["Site", "Size", "Length", "Installed", "Built"],
        ["Café", 4, 12.5, datetime(1998, 5, 26), date(1999, 1, 2)],
        [],
        ["B", 1.25, 7.0, 1998, None],
    )
    headings, rows, _ = read(path)
    assert headings == ["Site", "Size", "Length", "Installed", "Built"]
    assert rows == [
        (2, ["Café", "4", "12.5", "1998-05-26", "1999-01-02"]),
        (4, ["B", "1.25", "7", "1998"]),
    ]


def test_only_the_first_sheet_is_read_and_that_is_said(tmp_path):
    book = Workbook()
    book.active.append(["Site"])
    book.create_sheet("Other")
    book.save(tmp_path / "two.xlsx")
    assert "first sheet" in read(tmp_path / "two.xlsx")[2][0]


def test_one_cell_in_the_last_corner_does_not_stall_the_reader(tmp_path, monkeypatch):
    monkeypatch.setattr(reader, "MAX_ROWS", 1000)
    book = Workbook()
    book.active["A1"] = "Site"
    book.active["XFD1048576"] = "far away"
    book.save(tmp_path / "corner.xlsx")
    assert read(tmp_path / "corner.xlsx")[1] == []


@pytest.mark.parametrize(
    ("limit", "part"),
    [("MAX_UNPACKED", "xl/worksheets/sheet1.xml"), ("MAX_BESIDE_SHEETS", "xl/sharedStrings.xml")],
)
def test_a_workbook_that_unpacks_to_too_much_is_refused_unread(tmp_path, monkeypatch, limit, part):
    monkeypatch.setattr(reader, limit, 10_000)
    with zipfile.ZipFile(tmp_path / "bomb.xlsx", "w", zipfile.ZIP_DEFLATED) as parts:
        parts.writestr(part, "0" * 20_000)
    with pytest.raises(ImportFileError, match="unpacks to"):
        read(tmp_path / "bomb.xlsx")


def test_a_zip_that_is_no_workbook_is_refused(tmp_path):
    with zipfile.ZipFile(tmp_path / "letters.xlsx", "w") as parts:
        parts.writestr("letter.txt", "Dear all")
    with pytest.raises(ImportFileError, match="workbook cannot be read"):
        read(tmp_path / "letters.xlsx")
