"""The hash chain of a ledger: pure, so that an export can be checked anywhere with the same rules.

A record's hash is SHA-256 over the previous hash, a newline, and the canonical JSON of its body:
keys sorted, no spaces, UTF-8, whole floats written as integers (a database may return 30.0 as 30).
"""

import hashlib
import json
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

GENESIS = ""
ENCODE = json.JSONEncoder(
    sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False
).encode


AS_THEY_ARE = (str, int, bool, type(None))  # most values are these: told apart first


def _plain(value: Any) -> Any:
    if type(value) in AS_THEY_ARE:
        return value
    if isinstance(value, float):
        if not math.isfinite(value):
            raise ValueError(f"{value!r} has no place in a record: only finite numbers do.")
        return int(value) if value.is_integer() else value
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    return value


def canonical_json(value: Any) -> str:
    """The one text that stands for a value of dicts, lists, strings, numbers, booleans and null."""
    return ENCODE(_plain(value))


def record_hash(previous_hash: str, body: Mapping[str, Any]) -> str:
    return text_hash(previous_hash, canonical_json(body))


def text_hash(previous_hash: str, text: str) -> str:
    """Of a body that is text already."""
    return hashlib.sha256(f"{previous_hash}\n{text}".encode()).hexdigest()


@dataclass(frozen=True)
class Link:
    sequence: int
    body: Mapping[str, Any]
    previous_hash: str
    hash: str


@dataclass(frozen=True)
class Problem:
    sequence: int
    what: str


def verify(links: Iterable[Link]) -> list[Problem]:
    """What does not hold in a chain given in order from its first record; empty when all holds."""
    problems: list[Problem] = []
    previous, expected = GENESIS, 1
    for link in links:
        if link.sequence != expected:
            problems.append(Problem(link.sequence, f"expected record {expected} here"))
        if link.previous_hash != previous:
            problems.append(Problem(link.sequence, "does not follow the record before it"))
        if record_hash(link.previous_hash, link.body) != link.hash:
            problems.append(Problem(link.sequence, "was altered after it was written"))
        previous, expected = link.hash, link.sequence + 1
    return problems
