"""The planner from the command line, against published and tabled purge results."""

import json
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

FULL_MIXING = ("--mixing", "1", "--mixing-sd", "0")


def run(*options: str) -> str:
    out = StringIO()
    call_command("plan_inerting", "--volume", "500 gal", *options, stdout=out)
    return out.getvalue()


def plan(*options: str) -> dict:
    return json.loads(run(*options, "--json"))


def oxygen(document: dict) -> list[float]:
    return [100 - fill["n2_percent"] for fill in document["fills"]]


# Pressure purging, y_n = y_s + (y_0 - y_s) (P_L/P_H)^n: Crowl & Louvar, Chemical Process Safety,
# ch. 7; evaluated for 20.95 % oxygen from 14.696 psia, tolerance as printed.
@pytest.mark.parametrize(
    ("fill_pressure", "feed", "expected"),
    [
        ("15 psi", "99", (10.873, 5.886, 3.418, 2.197)),
        ("20 psi", "99.9", (8.931, 3.841, 1.684)),
        ("30 psi", "100", (6.888, 2.265, 0.745)),
        ("30 psi", "99.9", (6.955, 2.354, 0.841)),
        ("30 psi", "99", (7.560, 3.157, 1.709)),
        ("40 psi", "99", (6.360, 2.440, 1.387)),
        ("60 psi", "100", (4.122, 0.811)),
    ],
)
def test_fills_agree_with_the_equation_for_pressure_purging(fill_pressure, feed, expected):
    document = plan("--fill-pressure", fill_pressure, "--feed-purity", feed, *FULL_MIXING)
    assert oxygen(document)[: len(expected)] == pytest.approx(expected, abs=0.002)


def test_altitude_lowers_the_first_reading_of_oxygen():
    # ISO 2533 atmosphere at 1609 m, 83.43 kPa.
    document = plan("--altitude", "1609 m", "--feed-purity", "100", *FULL_MIXING)
    assert oxygen(document)[0] == pytest.approx(6.021, abs=0.01)


def test_two_pressure_cycles_at_five_atmospheres():
    # Branan, Rules of Thumb for Chemical Engineers: 21 % to 0.84 % in two cycles.
    document = plan(
        "--fill-pressure", "405.3 kPa", "--feed-purity", "100", "--start-n2", "79", "--target",
        "99.1", *FULL_MIXING,
    )  # fmt: skip
    assert oxygen(document)[1] == pytest.approx(0.84, abs=0.001)


def test_nitrogen_per_fill_is_the_swing_in_standard_volumes():
    # V (P_H - P_L) / P_std at 70 degF: 1.8927 m3 x 206.84 kPa / 101.325 kPa.
    document = plan("--temperature", "70 degF", *FULL_MIXING)
    assert document["nitrogen_per_fill_m3"] == pytest.approx(3.864, abs=0.002)


def test_colder_pipe_takes_more_nitrogen():
    warm, cold = plan("--temperature", "68 degF"), plan("--temperature", "20 degF")
    assert cold["nitrogen_per_fill_m3"] > warm["nitrogen_per_fill_m3"]


def test_json_holds_the_plan_and_says_that_nothing_is_refused():
    document = plan(*FULL_MIXING)
    assert document["refused"] is None
    assert document["fills_needed"] == 3
    assert document["asymptote_n2_percent"] == pytest.approx(99.9)
    assert document["cylinders"] == 2
    assert set(document["fills"][0]) == {"fill", "n2_percent", "low", "high", "accept_probability"}
    assert [fill["accept_probability"] for fill in document["fills"]] == [0, 0, 1]


def test_without_a_known_mixing_index_the_plan_shows_a_band():
    first = plan()["fills"][0]
    assert first["low"] < first["n2_percent"] < first["high"]


def test_a_feed_that_cannot_reach_the_target_is_refused_with_its_asymptote():
    document = plan("--feed-purity", "98", *FULL_MIXING)
    assert document["refused"]["code"] == "feed_below_target"
    assert document["asymptote_n2_percent"] == pytest.approx(98)
    assert document["fills_needed"] is None
    assert "REFUSED" in run("--feed-purity", "98")


def test_a_fill_above_the_rated_pressure_is_refused():
    document = plan("--fill-pressure", "180 psi", "--rated", "175 psi")
    assert document["refused"]["code"] == "above_rated_pressure"


def test_a_room_too_small_for_the_vented_gas_is_named():
    document = plan("--room", "30 m3", "--flow", "300 scfh")
    assert document["room"]["is_deficient"]
    assert "room_oxygen" in [warning["code"] for warning in document["warnings"]]


def test_the_table_is_for_people():
    text = run(*FULL_MIXING, "--flow", "300 scfh")
    assert "93.04 %" in text
    assert "whole cylinders: 2" in text
    assert "argon counts as nitrogen" in text


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (("--fill-pressure", "30 furlongs"), r"--fill-pressure “30 furlongs”: .* Write it like"),
        (("--fill-pressure", "30"), r"--fill-pressure “30”: the unit is missing"),
        (("--fill-pressure", "500 gal"), "gal measures a volume"),
        (("--fill-pressure", "0 psi"), "must be above zero"),
        (("--feed-purity", "101"), r"--feed-purity “101”: .*more than 100 %"),
        (("--mixing", "lots"), "--mixing “lots”: write a number"),
        (("--mixing", "0"), "between 0.05 and 10"),
        (("--mixing-sd", "-1"), "--mixing-sd"),
        (("--cylinder", "barrel"), "--cylinder “barrel”: it must be one of"),
        (("--reserve", "9000 psi"), "full pressure of the cylinder"),
        (("--altitude", "nan m"), "--altitude"),
    ],
)
def test_a_wrong_option_is_named_with_what_was_typed_and_what_would_be_right(options, message):
    with pytest.raises(CommandError, match=message):
        run(*options)


def test_a_volume_of_nothing_is_refused():
    with pytest.raises(CommandError, match="--volume “0 gal”: it must be above zero"):
        call_command("plan_inerting", "--volume", "0 gal")
