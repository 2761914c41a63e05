"""A ledger in a file, in no database: atmosphere and protection with state, since and reason."""

import json

import pytest
from django.core.management import CommandError, call_command

BROKEN = {
    "system": {"kind": "wet", "installed": "2015-01-01"},
    "as_of": "2026-01-01",
    "runs": [
        {
            "id": 1,
            "role": "cross_main",
            "material": "black_steel",
            "nominal_size": "4",
            "schedule": "10",
            "length_m": 300,
        }
    ],
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
    }
    assert found["atmosphere"]["state"] == "aerated"
    assert found["atmosphere"].keys() == {"state", "since", "reason"}


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
    ],
)
def test_what_is_wrong_is_named_with_what_would_be_right(judge, changes, words):
    with pytest.raises(CommandError) as refused:
        judge(**changes)
    assert words in str(refused.value)
