"""The program of the page judges as the book does: both on the same cases, the program by node."""

import json
import shutil
import subprocess
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace

import pytest

from registry.fields import QuantityField
from registry.plausibility import as_data, judge
from registry.runs.steps import FILLED, HELD, READ, STARTED, next_step
from tests.readers.tools import need
from tests.registry.plausibility.test_judging import CASES
from tests.registry.quantities.test_numerals import CASES as NUMERALS
from tests.registry.quantities.test_numerals import SIGNS
from tests.registry.runs.test_acceptance import ATMOSPHERE_PA, decided
from tests.registry.runs.test_acceptance import CASES as ACCEPTANCE

HERE = Path(__file__).parent
PROGRAM = HERE.parents[2] / "registry" / "static" / "registry" / "judge.js"


def by_the_page(cases):
    need(shutil.which("node"), "node is missing (Debian: nodejs)")
    done = subprocess.run(
        ["node", str(HERE / "judge.mjs"), str(PROGRAM)],
        input=json.dumps({"table": as_data(), "cases": cases}),
        capture_output=True, text=True, timeout=120,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def test_the_page_asks_about_what_the_book_asks_about():
    found = by_the_page([["judge", case] for case in CASES])
    for case, said in zip(CASES, found, strict=True):
        ours = judge(case["sense"], case["value"], case.get("known", {}))
        assert (said and said["code"]) == (ours and ours.limit.code) == case["code"], case["says"]
        meant = [one.value for one in ours.suggestions] if ours else []
        assert (said["meant"] if said else []) == pytest.approx(meant), case["says"]


def test_the_page_takes_for_enough_what_the_book_accepts():
    found = by_the_page([["lacks", case | {"atmosphere": ATMOSPHERE_PA}] for case in ACCEPTANCE])
    for case, lacks in zip(ACCEPTANCE, found, strict=True):
        assert lacks == case["lacks"] == [lack.code for lack in decided(case).lacks], case["name"]


def test_the_page_asks_for_the_step_that_the_book_asks_for():
    cases = [case for case in ACCEPTANCE if case["readings"]]
    found = by_the_page(
        [["next", case | {"fill": 2, "atmosphere": ATMOSPHERE_PA}] for case in cases]
    )
    for case, token in zip(cases, found, strict=True):
        assert token == book_asks(case), case["name"]


def book_asks(case):
    """What the pure rules of a run ask for after these readings of its second fill."""
    began = datetime(2026, 5, 1, 12, tzinfo=UTC)

    def row(kind, after_s=0.0, **details):
        when = began + timedelta(seconds=after_s)
        return SimpleNamespace(kind=kind, details=details, occurred_at=when)

    logged = [row(STARTED, **({"points": 1} | case["demands"])), row(FILLED, fill=2)]
    for reading in case["readings"]:
        told = dict(reading)
        logged.append(row(READ, told.pop("after_fill_s", 0.0), fill=2, **told))
    if case["hold"]:
        logged.append(row(HELD, 86_400.0, fill=2, **case["hold"]))
    if decided(case).is_accepted:
        return "closing"
    return next_step(logged, takes_water=True, atmosphere_pa=ATMOSPHERE_PA).token


def test_the_page_reads_a_number_as_the_book_does_and_leaves_what_is_asked_to_the_book():
    cases = [(case, sign) for case in NUMERALS for sign in SIGNS if SIGNS[sign] in case]
    found = by_the_page(
        [["number", {"typed": case["typed"], "decimal": sign}] for case, sign in cases]
    )
    for (case, sign), said in zip(cases, found, strict=True):
        ours = case[SIGNS[sign]]
        assert said == (None if isinstance(ours, list) else ours), (case["typed"], sign)


TYPED = [
    ("92.6", "", "percent", True),
    ("92,6", "", "percent", True),
    ("0.9", "% O2", "percent", True),
    ("0.9 % O2", "", "percent", True),
    ("99.1 % N2", "", "percent", True),
    ("30", "psi", "pressure", False),
    ("30 psi", "bar", "pressure", False),
    ("2,07", "bar", "pressure", False),
    ("207", "kPa", "pressure", False),
    ("41", "°F", "temperature", False),
    ("-5", "°C", "temperature", False),
    ("0.154", "in", "wall", False),
    ("3,9", "mm", "wall", False),
    ("15", "min", "duration", False),
]


@pytest.mark.parametrize(("text", "unit", "dimension", "is_nitrogen"), TYPED)
def test_a_number_is_read_alike(text, unit, dimension, is_nitrogen):
    field = QuantityField(dimension=dimension, required=False)
    field.is_nitrogen = is_nitrogen
    has_own_unit = any(sign.isalpha() or sign == "%" for sign in text)
    typed = text if has_own_unit or not unit else f"{text} {unit}"
    (said,) = by_the_page(
        [
            [
                "stored",
                {"text": text, "unit": unit, "dimension": dimension, "is_nitrogen": is_nitrogen},
            ]
        ]
    )
    assert said == pytest.approx(field.clean(typed), rel=1e-9)


@pytest.mark.parametrize(
    "text", ["", "30 psig or so", "1,234", "12' 6\"", "3 1/2", "abc", "30 psia"]
)
def test_what_could_be_read_in_two_ways_is_left_to_the_book(text):
    given = {"text": text, "unit": "psi", "dimension": "pressure", "is_nitrogen": False}
    assert by_the_page([["stored", given]]) == [None]
