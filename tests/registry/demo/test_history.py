"""The demo's story told to the derivation of protection alone, without loading it."""

import json
from collections import defaultdict
from datetime import datetime, timedelta

import pytest

from registry.atmosphere import LedgerItem
from registry.demo.people import FOLDER
from registry.kinds.events import IMPAIRMENT_END
from registry.kinds.steps import RETURNED, STARTED
from registry.protection import IMPAIRED, IN_SERVICE, NOT_KNOWN, Condition, standing
from registry.protection.restoration import FACTS
from tests.factories import NOW

LONGEST = timedelta(days=14)


@pytest.fixture(scope="module")
def history() -> list[dict]:
    return json.loads((FOLDER / "history.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def now_holds(history) -> dict[str, Condition]:
    told: dict[str, list[LedgerItem]] = defaultdict(list)
    for entry in history:
        when = NOW - timedelta(days=entry["days_ago"])
        for kind, details in kinds_of(entry):
            told[entry["tag"]].append(item(len(told[entry["tag"]]), kind, when, details))
    return {tag: condition for tag, items in told.items() if (condition := standing(items))}


def kinds_of(entry: dict) -> list[tuple[str, dict]]:
    if "run" not in entry:
        return [(entry["kind"], entry["details"])]
    returned = (RETURNED.code, dict.fromkeys(FACTS, "yes"))
    return [(STARTED.code, {}), *([] if entry.get("unfinished") else [returned])]


def item(number: int, kind: str, when: datetime, details: dict) -> LedgerItem:
    return LedgerItem(number, number, kind, when, details)


def test_the_air_check_of_each_run_is_told_and_one_shows_what_its_lack_looks_like(history):
    checks = [entry["check"] for entry in history if "run" in entry]
    assert checks.count({}) == 1
    assert all(20.4 <= shown["air_o2_percent"] <= 21.4 for shown in checks if shown)
    assert all(shown["zero_o2_percent"] <= 0.3 for shown in checks if shown)


def test_whoever_ends_an_impairment_answers_all_five(history):
    ends = [entry["details"] for entry in history if entry.get("kind") == IMPAIRMENT_END.code]
    assert ends
    assert all(set(FACTS) <= details.keys() for details in ends)


def test_no_system_of_the_demo_was_left_out_of_service_for_months(now_holds):
    out = {tag: one for tag, one in now_holds.items() if one.state == IMPAIRED}
    assert {tag for tag, one in out.items() if NOW - one.open[0].began_at > LONGEST} == set()


def test_the_demo_shows_every_state_of_protection(now_holds):
    states = [condition.state for condition in now_holds.values()]
    assert states.count(IN_SERVICE) > len(states) / 2
    assert states.count(NOT_KNOWN) >= 2
    assert 2 <= states.count(IMPAIRED) <= 5
