"""A reading outside the band: the program of the page judges as the book does, fill after fill."""

import json
import shutil
import subprocess
from itertools import product

import pytest

from registry.corrosion.mixing import MeasuredFill, MixingIndex, judge_reading, update_mixing
from registry.quantities import PSI
from tests.readers.tools import need
from tests.registry.phone.test_judging import HERE, PROGRAM

ATMOSPHERE_PA = 14.696 * PSI
READINGS = (5.0, 60.0, 79.0, 84.0, 88.5, 90.0, 91.0, 92.9, 94.5, 95.5, 97.6, 99.2, 99.9, 100.0)
PRIORS = ((1.0, 0.15), (0.7, 0.3), (0.9, 0.001), (0.05, 0.1))
FEEDS = (100.0, 98.0)
"""Nitrogen of the feed in percent; from a generator it may be less than the reading."""


def by_the_page(cases):
    need(shutil.which("node"), "node is missing (Debian: nodejs)")
    band = PROGRAM.with_name("band.js")
    done = subprocess.run(
        ["node", str(HERE / "judge.mjs"), str(PROGRAM), str(band)],
        input=json.dumps({"table": [], "cases": [["band", case] for case in cases]}),
        capture_output=True, text=True, timeout=120,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def begun(prior, feed, reached_psi=30.0):
    return {
        "prior": {"mean": prior[0], "sd": prior[1]},
        "feed_n2_percent": feed,
        "start_n2_percent": 79.05,
        "left_pa": ATMOSPHERE_PA,
        "reached_pa": reached_psi * PSI + ATMOSPHERE_PA,
        "fills": [],
    }


def by_the_book(case):
    """The same from the pure rules, which are handed oxygen and ratios."""
    run = case["run"]
    feed = 1 - run["feed_n2_percent"] / 100
    start, left, reached = run["start_n2_percent"], run["left_pa"], run["reached_pa"]
    fills = []
    for n2, left_after, reached_after in case.get("steps", ()):
        fills.append(MeasuredFill(1 - start / 100, 1 - n2 / 100, feed, left / reached))
        start, left, reached = n2, left_after, reached_after
    belief = update_mixing(MixingIndex(run["prior"]["mean"], run["prior"]["sd"]), fills)
    fill = MeasuredFill(1 - start / 100, 1 - case["n2"] / 100, feed, left / reached)
    return judge_reading(belief, fill)


def second_fill(n2, left_psi, reached_psi):
    return [n2, left_psi * PSI + ATMOSPHERE_PA, reached_psi * PSI + ATMOSPHERE_PA]


CASES = [
    {"run": begun(prior, feed), "n2": n2, "steps": steps}
    for prior, feed, n2, steps in product(
        PRIORS,
        FEEDS,
        READINGS,
        ([], [second_fill(92.9, 0, 30)], [second_fill(88.0, 1, 28), second_fill(94.0, 0, 60)]),
    )
]


def test_the_page_questions_the_readings_that_the_book_questions():
    verdicts = set()
    for case, said in zip(CASES, by_the_page(CASES), strict=True):
        ours = by_the_book(case)
        verdicts.add(ours.is_plausible)
        assert said["isPlausible"] == ours.is_plausible, case
        causes = [code for code in said["causes"] if code != "oxygen_shown"]
        assert causes == [cause.code for cause in ours.causes], case
        assert said["low"] == pytest.approx(ours.expected.low, abs=1e-6), case
        assert said["high"] == pytest.approx(ours.expected.high, abs=1e-6), case
    assert verdicts == {True, False}


def test_where_no_pressure_rose_or_it_cannot_be_read_nothing_is_asked():
    flat = begun(PRIORS[0], 100.0) | {"reached_pa": ATMOSPHERE_PA}
    unread = begun(PRIORS[0], 100.0) | {"reached_pa": None}
    assert by_the_page([{"run": flat, "n2": 60.0}, {"run": unread, "n2": 60.0}]) == [None, None]
