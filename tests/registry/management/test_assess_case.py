"""A ledger in a file, in no database: atmosphere and protection with state, since and reason."""

import json
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

DOCS = Path(__file__).parents[3] / "docs" / "cases.md"

RUN = {
    "id": "main",
    "role": "cross_main",
    "material": "black_steel",
    "nominal_size": "4",
    "schedule": "10",
    "length_m": 300,
}
BROKEN = {
    "system": {"kind": "wet", "installed": "2015-01-01"},
    "as_of": "2026-01-01",
    "runs": [RUN],
    "records": [
        {"kind": "event.head_break", "on": "2025-06-01T09:00Z", "details": {"count": 1}},
    ],
    "assumptions": {},
}


@pytest.fixture
def judge(tmp_path, capsys):
    def run(**changes):
        path = tmp_path / "case.json"
        path.write_text(json.dumps(BROKEN | changes))
        call_command("assess", case=str(path), json=True)
        return json.loads(capsys.readouterr().out)

    return run


def test_the_worked_example_of_the_docs(judge):
    """No database: this test may open none."""
    found = judge()
    assert found["protection"] == {
        "state": "impaired",
        "since": "2025-06-01T09:00:00+00:00",
        "reason": "A sprinkler opened or was knocked off.",
        "not_known": ["told_all", "fire_watch"],
    }
    assert found["atmosphere"]["state"] == "aerated"
    assert found["atmosphere"].keys() == {"state", "since", "reason"}


SCAN = {
    "kind": "reading.wall", "on": "2025-12-01",
    "details": {"run": "main", "wall_mm": 1.9, "method": "full_scan", "error_mm": 0.1},
}  # fmt: skip


def test_the_score_of_the_worked_example_of_the_docs(judge):
    found = judge(records=[*BROKEN["records"], SCAN])
    text = DOCS.read_text(encoding="utf-8")
    assert f'"score": {found["score"]:.1f}, "band": "{found["band"]}"' in text
    for reason in found["reasons"]:
        assert f'"points": {reason["points"]:g}' in text
    (run,) = found["runs"]
    assert run["run"] == "main" and run["source"] == "measured"
    assert run["wall_left_mm"] == pytest.approx(1.9, abs=0.25) and run["wall_left_mm"] <= 1.9
    assert f'"wall_left_mm": {run["wall_left_mm"]:.2f}' in text


def test_the_reasons_of_a_written_case_add_up_to_its_score(judge):
    found = judge()
    assert sum(one["points"] for one in found["reasons"]) == pytest.approx(found["score"], abs=0.06)
    assert found["runs"][0]["source"] == "computed"


def test_a_case_without_pipe_has_no_score_and_says_why(judge):
    found = judge(runs=[])
    assert found["score"] is None and "no pipe" in found["why_no_score"]


def test_an_assumption_in_the_file_moves_the_score(judge):
    assert judge(assumptions={"unknown_fills_per_year": 6.0})["score"] > judge()["score"]


def test_a_record_names_a_run_by_the_id_of_the_file_whatever_the_order(judge):
    runs = [RUN | {"id": 2}, RUN | {"id": 1, "nominal_size": "6"}]
    scan = SCAN | {"details": SCAN["details"] | {"run": "1"}}
    found = judge(runs=runs, records=[scan])
    assert [(run["run"], run["source"]) for run in found["runs"]] == [
        (2, "computed"), (1, "measured")
    ]  # fmt: skip


def test_what_the_file_leaves_out_is_said(judge):
    found = judge(system={}, records=[{"kind": "event.trip", "on": "2025-06-01"}], as_of=None)
    assert found["defaults"]["system.kind"] == "wet"
    assert found["defaults"]["records[0].details.cause"] == "unknown"
    assert found["defaults"]["system.installed"] == "2025-06-01T00:00:00+00:00"
    assert "as_of" in found["defaults"]


def test_records_after_the_day_are_not_known_yet(judge):
    found = judge(as_of="2025-05-31")
    assert found["protection"]["state"] == "not_known"


def test_a_restoration_that_leaves_a_question_out_restores_nothing(judge):
    records = [*BROKEN["records"], {"kind": "event.impairment_end", "on": "2025-06-02"}]
    assert judge(records=records)["protection"]["state"] == "impaired"


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"system": {"kind": "damp"}}, "system.kind: “damp” is not one of"),
        (
            {"records": [{"kind": "event.flood", "on": "2025-01-01"}]},
            "records[0].kind: “event.flood”",
        ),
        ({"records": [{"kind": "event.fire", "on": "June"}]}, "records[0].on: “June” is no day"),
        ({"runs": [{"id": 1}]}, "runs[0]: length_m, nominal_size, schedule missing"),
        ({"pipes": []}, "pipes: not known here"),
        ({"assumptions": {"pocket_full": 1}}, "assumptions: pocket_full: not known here"),
        ({"assumptions": {"pocket_fill": 7}}, "pocket_fill"),
        ({"system": {"altitude_m": 9000}}, "system.altitude_m: 9000 is not a number from -430"),
        ({"system": {"consequence_class": 9}}, "system.consequence_class: 9 is not 1 to 5"),
        ({"runs": [RUN | {"joint": "glued"}]}, "runs[0].joint: “glued” is not one of"),
        ({"runs": [RUN | {"wall_mm": 80}]}, "runs[0]"),
    ],
)
def test_what_is_wrong_is_named_with_what_would_be_right(judge, changes, words):
    with pytest.raises(CommandError) as refused:
        judge(**changes)
    assert words in str(refused.value)
