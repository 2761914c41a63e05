"""The commands give the numbers that are stored, which are those the pages show."""

import json
from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.utils import timezone

from registry.management.commands import compare_models
from registry.models import Assessment
from registry.services.assessments import assess_system
from tests.factories import make_pipe_run, make_record, make_system


@pytest.fixture
def system(world):
    entered = timezone.now() - timedelta(days=1000)
    system = make_system(world.site, world.owner, now=entered, tag="NQ-101")
    make_pipe_run(system, world.owner, now=entered)
    return system


def run(*words: str) -> str:
    out = StringIO()
    call_command(*words, stdout=out)
    return out.getvalue()


def test_the_printed_assessment_is_the_stored_one(system):
    stored = assess_system(system, timezone.now())
    (printed,) = json.loads(run("assess", "--system", "nq-101", "--json"))
    for name in ("score", "band", "digest", "leak_in_5_yr", "life_mid_yr", "reasons", "runs"):
        assert printed[name] == getattr(stored, name), name


def test_a_past_day_is_assessed_as_the_book_then_was(system, world):
    then = timezone.now() - timedelta(days=100)
    before = assess_system(system, then).score
    (quiet,) = json.loads(run("assess", "--json"))
    make_record(
        system, "event.head_break", then - timedelta(days=5), world.owner,
        now=timezone.now(), count=1,
    )  # fmt: skip
    (printed,) = json.loads(run("assess", "--as-of", f"{then:%Y-%m-%d}", "--json"))
    assert printed["score"] == before
    (today,) = json.loads(run("assess", "--json"))
    assert today["score"] > quiet["score"]


def test_the_table_names_the_system_its_band_and_its_reasons(system):
    table = run("assess", "--system", "NQ-101")
    row = assess_system(system, timezone.now())
    assert "NQ-101" in table and row.band in table
    assert row.reasons[0]["text"] in table


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--system", "XX-1"), "no system has the tag “XX-1”"),
        (("--as-of", "1/2/2026"), "write it as 2026-03-31"),
        (("--as-of", "2199-01-01"), "lies in the future"),
    ],
)
def test_what_cannot_be_assessed_is_refused_with_what_would_be_right(system, words, said):
    with pytest.raises(CommandError, match=said):
        run("assess", *words)


def test_rescore_assesses_what_is_due_and_with_all_everything(system):
    assert "1 unchanged" not in run("rescore")
    assert "0 added, 0 refreshed, 1 unchanged" in run("rescore")
    assert "1 refreshed" in run("rescore", "--all")


def test_models_are_compared_system_by_system(system):
    now = timezone.now()
    row = assess_system(system, now)
    with pytest.raises(CommandError, match="Every assessment in the book is by version"):
        run("compare_models")
    Assessment.objects.filter(pk=row.pk).update(
        model_version="0.9", score=row.score / 2, band="low", is_latest=False
    )
    Assessment.objects.exclude(pk=row.pk).delete()
    new = assess_system(system, now)
    report = run("compare_models")
    assert f"Model 0.9 -> {new.model_version}: 1 systems, 1 moved" in report
    assert f"({new.score / 2:+.1f})" in report
    assert new.band == "leave" or f"low -> {new.band}" in report
    assert f"by {new.model_version}" in report and "1.00" in report
    assert f"{system.tag:12} place   1 ->   1" in report
    largest = max(new.reasons, key=lambda one: abs(one["points"]))
    assert f"{largest['points']:+.1f} {largest['text'].lower()}" in report


def test_the_spread_of_scores_and_the_order_are_compared():
    old = [Assessment(score=score, band="low") for score in (50.0, 20.0, 20.0, 1.0)]
    new = [Assessment(score=score, band="act") for score in (10.0, 40.0, 30.0, 2.0)]
    changes = [
        compare_models.Change(f"T-{at}", *pair)
        for at, pair in enumerate(zip(old, new, strict=True), 1)
    ]
    lines = compare_models.spread_lines(changes, "1.3", "2.0")
    assert lines[1].split() == ["by", "1.3", "6.7", "20.0", "41.0", "1.0", "50.0", "2", "of", "4"]
    assert lines[2].split()[-3:] == ["0", "of", "4"]
    assert lines[3].endswith("0.32.")
    first = compare_models.first_lines(changes, "1.3", "2.0")
    assert first[1].startswith("T-2          place   2 ->   1    20.0 ->  40.0")
