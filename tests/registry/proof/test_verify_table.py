"""records.csv read beside the records: most rows as they stand, and never otherwise than a reader
of CSV reads them."""

import csv
import io

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from registry.proof.cells import csv_lines
from registry.proof.package import OF_A_RECORD
from registry.proof.verify import PLAIN, Row, Table, plain
from tests.effort import many

HASHES = ("a1" * 32, "b2" * 32)
BODY = PLAIN({"kind": "event.observation", "note": 'He said "no", twice', "sequence": 2})
WORDS = st.text(alphabet=' ab,"“\r\n=', max_size=6)
FINITE = st.floats(allow_nan=False, allow_infinity=False)
VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.text() | FINITE,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=6,
)


def row(log: int | None = 7, previous: str = HASHES[1]) -> Row:
    return Row("s", 2, HASHES[0], log, previous, BODY.encode(), {})


def table(text: str) -> Table:
    return Table(io.BytesIO(text.encode()))


def written(rows, columns=("site", "note", *OF_A_RECORD)) -> str:
    return "".join(csv_lines(columns, rows))


def full(*words: object) -> tuple[object, ...]:
    return (*words, HASHES[0], HASHES[1], 7, BODY)


@given(st.lists(st.tuples(WORDS, WORDS), min_size=1, max_size=4))
@settings(max_examples=many(60), deadline=None)
def test_whatever_people_wrote_each_row_is_seen_as_it_is(words):
    read = table(written(full(*one) for one in words))
    assert all(read.shows(row()) for _ in words)
    assert read.is_at_end()
    assert not read.shows(row())


@pytest.mark.parametrize("log", [None, 0, 12])
def test_a_record_without_a_place_in_the_log_is_seen_too(log):
    shown = "" if log is None else log
    read = table(written([("Quay", "", HASHES[0], HASHES[1], shown, BODY)]))
    assert read.shows(row(log))


def test_columns_in_another_order_are_read_by_their_names():
    text = written([(BODY, "Quay", HASHES[0])], ("body", "site", "hash"))
    assert table(text).shows(row())
    assert not table(text.replace("twice", "once")).shows(row())


END = f"{HASHES[0]},{HASHES[1]},7," + '"' + BODY.replace('"', '""') + '"\r\n'
HIDING = {
    "in a cell that is in quotes": f'Quay,"see,{END}',
    "in a cell that begins behind a lone quote": f'Qu"ay,"see,{END}',
    "behind a row of its own": f"Quay,Other,{HASHES[1]},,7,x\rQuay,,{END}",
    "one cell too far": f"Quay,,,{END}",
    "one cell too early": f"Quay,{END}",
}


@pytest.mark.parametrize("row_text", HIDING.values(), ids=HIDING)
def test_the_right_end_of_a_line_is_not_enough(row_text):
    head = written([])
    assert not table(head + row_text).shows(row())
    cells = [one for one in csv.reader(io.StringIO(row_text, newline="")) if one[2:] == [*full()]]
    assert not cells  # neither does a reader of CSV see it there


@given(VALUES)
@settings(max_examples=many(100), deadline=None)
def test_the_quick_encoder_writes_what_the_plain_one_writes(value):
    assert plain(value) == PLAIN(value)


def test_the_quick_encoder_takes_no_number_that_json_has_not():
    with pytest.raises(ValueError):
        plain({"n": float("nan")})
