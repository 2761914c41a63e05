"""The writer of packages: streamed, bounded, ordered, and cells that stay text."""

import csv
import io
import json
import tracemalloc
import zipfile

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.proof.cells import csv_lines, safe_cell
from registry.proof.package import About, Ledger, Line, Log, Package, PackageError
from tests.registry.proof.packages import COLUMNS, LOG_KEY, MADE_AT, Book, files_of

BOOK = Book()
FILES = files_of(BOOK.package())


class OneWay(io.RawIOBase):
    """A response: it is written to, and that is all."""

    def __init__(self):
        self.held = bytearray()

    def writable(self):
        return True

    def write(self, data):
        self.held += data
        return len(data)


class Nowhere(OneWay):
    def write(self, data):
        return len(data)


def package(out=None) -> Package:
    about = About("Averhythe", MADE_AT, "Olive")
    return Package(out or OneWay(), about, Log(BOOK.checkpoint()), LOG_KEY)


def test_a_package_is_written_to_what_cannot_be_read_or_sought():
    out = OneWay()
    made = package(out)
    made.add("words.txt", [b"one ", b"two"], "A text.")
    made.close()
    with zipfile.ZipFile(io.BytesIO(bytes(out.held))) as opened:
        assert opened.testzip() is None
        assert opened.read("words.txt") == b"one two"


def test_the_same_rows_give_the_same_bytes():
    assert BOOK.package() == BOOK.package()


def test_the_manifest_says_what_the_package_is_of():
    manifest = json.loads(FILES["manifest.json"])
    assert manifest["owner"] == "Averhythe Quays"
    assert manifest["made_at"] == "2026-06-01T12:00:00+00:00"
    assert manifest["is_whole"] is True
    assert manifest["count"] == {"systems": 3, "records": 60, "between": 0, "log": 60}
    assert [entry["name"] for entry in manifest["files"]] == [
        "verify.py", "systems.jsonl", "records.jsonl", "records.csv", "log/leaves",
        "attachments/vent.jpg", "log/key", "log/checkpoint",
    ]  # fmt: skip
    assert all(entry["size"] == len(FILES[entry["name"]]) for entry in manifest["files"])


def test_the_table_has_the_words_and_all_that_a_hash_needs():
    rows = list(csv.DictReader(io.StringIO(FILES["records.csv"].decode("utf-8-sig"))))
    assert tuple(rows[0]) == (*COLUMNS, "hash", "previous_hash", "log", "body")
    assert rows[0]["site"] == "North Quay"
    assert rows[0]["said"] == "'=Far vent “Süd”"
    assert json.loads(rows[0]["body"])["details"]["where"] == "=Far vent “Süd”"


def test_systems_out_of_order_and_a_file_twice_are_refused():
    with pytest.raises(PackageError, match="in the order of their ids"):
        package().add_systems(Ledger(name, "NQ", "North Quay", 1, "") for name in "ba")
    made = package()
    made.add("words.txt", [b""])
    with pytest.raises(PackageError, match="already"):
        made.add("words.txt", [b""])


def test_memory_does_not_grow_with_the_number_of_records():
    def rows(count):
        for number in range(count):
            yield Line("a", number + 1, "0" * 64, number, "1" * 64, '{"x":"' + "y" * 400 + '"}')

    def peak(count) -> int:
        made = package(Nowhere())
        tracemalloc.start()
        made.add_records(lambda: rows(count), ())
        made.close()
        _, highest = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        return highest

    assert peak(8000) < 1.2 * peak(2000)


@pytest.mark.parametrize(
    "cell",
    ["=1+1", "+1", "-1", "@x", "\t=1", "\r=1", "\n=1", "  =1", "\u00a0=1", "\u200b=1", "\ufeff=1",
     "＝1", "＋1", "－1", "＠x", "|cmd", "%x", "\tplain"],
)  # fmt: skip
def test_text_that_could_become_a_formula_is_marked_as_text(cell):
    assert safe_cell(cell) == f"'{cell}"


@pytest.mark.parametrize("cell", ["plain", "a=1", "", " ", "'=1", 1, -1.5, None, '{"a":-1}'])
def test_what_cannot_become_one_stays_as_it_is(cell):
    assert safe_cell(cell) == cell


@given(st.lists(st.text(st.characters(exclude_categories=("Cs",))), min_size=1, max_size=4))
def test_no_text_gives_a_cell_that_begins_as_a_formula(cells):
    text = "".join(csv_lines(["a"] * len(cells), [cells]))
    (_, row) = list(csv.reader(io.StringIO(text, newline="")))
    assert [cell.removeprefix("'") if cell != typed else cell
            for cell, typed in zip(row, cells, strict=True)] == cells  # fmt: skip
    assert not any(cell.lstrip().startswith(("=", "+", "-", "@")) for cell in row)
