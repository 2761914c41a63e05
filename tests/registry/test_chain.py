"""The hash chain: what it covers, what it finds, and that a round trip does not break it."""

import hashlib
import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.chain import GENESIS, Link, canonical_json, record_hash, verify


def chain_of(*bodies: dict) -> list[Link]:
    links, previous = [], GENESIS
    for sequence, body in enumerate(bodies, start=1):
        digest = record_hash(previous, body)
        links.append(Link(sequence, body, previous, digest))
        previous = digest
    return links


JSON_VALUES = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**53), 2**53)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=4), inner),
    max_leaves=8,
)


def test_canonical_json_sorts_keys_and_leaves_no_spaces():
    assert canonical_json({"b": [1, 2.5], "a": "é"}) == '{"a":"é","b":[1,2.5]}'


def test_canonical_json_writes_a_whole_float_as_an_integer():
    assert canonical_json({"p": 30.0}) == canonical_json({"p": 30})


def test_canonical_json_refuses_a_number_that_is_not_finite():
    with pytest.raises(ValueError, match="only finite numbers"):
        canonical_json({"p": float("nan")})


@given(JSON_VALUES)
def test_canonical_json_is_the_same_after_a_round_trip_through_json(value):
    text = canonical_json(value)
    assert canonical_json(json.loads(text)) == text


def test_record_hash_is_sha_256_of_the_previous_hash_a_newline_and_the_body():
    """Recomputed with hashlib and a text written out by hand, not with the code under test."""
    assert record_hash("ab", {"b": 1, "a": 2.0}) == hashlib.sha256(b'ab\n{"a":2,"b":1}').hexdigest()


def test_an_untouched_chain_has_no_problem():
    assert verify(chain_of({"a": 1}, {"a": 2}, {"a": 3})) == []


def test_an_altered_record_is_named():
    links = chain_of({"a": 1}, {"a": 2}, {"a": 3})
    links[1] = Link(2, {"a": 20}, links[1].previous_hash, links[1].hash)
    assert [(p.sequence, p.what) for p in verify(links)] == [
        (2, "was altered after it was written")
    ]


def test_an_altered_record_with_a_new_hash_breaks_the_one_after_it():
    links = chain_of({"a": 1}, {"a": 2}, {"a": 3})
    body = {"a": 20}
    links[1] = Link(2, body, links[1].previous_hash, record_hash(links[1].previous_hash, body))
    assert [p.sequence for p in verify(links)] == [3]


def test_a_missing_record_is_found():
    links = chain_of({"a": 1}, {"a": 2}, {"a": 3})
    problems = verify([links[0], links[2]])
    assert {p.what for p in problems} == {
        "expected record 2 here",
        "does not follow the record before it",
    }


def test_two_records_that_changed_places_are_found():
    links = chain_of({"a": 1}, {"a": 2}, {"a": 3})
    assert verify([links[0], links[2], links[1]])
