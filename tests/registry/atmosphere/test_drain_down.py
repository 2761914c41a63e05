from itertools import product

import pytest

from registry.atmosphere.drain_down import STEPS, judge
from registry.kinds import KINDS
from tests.registry.atmosphere.ledgers import PSI

ALL_DONE = dict.fromkeys(STEPS, "yes")


def test_steps_are_the_questions_that_the_record_asks():
    asked = {field.name for field in KINDS["event.drain_down"].fields if field.type == "tri"}
    assert asked == set(STEPS)


def test_all_four_steps_done_keep_the_nitrogen():
    assert judge(ALL_DONE).outcome == "kept"
    assert judge(ALL_DONE).steps == ()


@pytest.mark.parametrize("step", STEPS)
def test_any_step_left_out_lets_air_in_and_is_named(step):
    judged = judge(ALL_DONE | {step: "no"})
    assert (judged.outcome, judged.steps) == ("broken", (step,))
    assert STEPS[step] in judged.reason


@pytest.mark.parametrize("step", STEPS)
@pytest.mark.parametrize("answer", ["unknown", "", None])
def test_any_step_not_known_leaves_doubt_and_is_named(step, answer):
    judged = judge(ALL_DONE | {step: answer})
    assert (judged.outcome, judged.steps) == ("in_doubt", (step,))
    assert STEPS[step] in judged.reason


def test_a_step_left_out_outweighs_any_number_not_known():
    judged = judge({"one_drain_at_a_time": "no"})
    assert (judged.outcome, judged.steps) == ("broken", ("one_drain_at_a_time",))


def test_no_answers_at_all_leave_doubt_about_every_step():
    assert judge({}).steps == tuple(STEPS)


def test_a_worse_answer_never_gives_a_better_outcome():
    worth = {"kept": 0, "in_doubt": 1, "broken": 2}
    worse = {"yes": "unknown", "unknown": "no"}
    for answers in product(("yes", "unknown", "no"), repeat=4):
        given = dict(zip(STEPS, answers, strict=True))
        for step, answer in given.items():
            if answer in worse:
                lowered = judge(given | {step: worse[answer]})
                assert worth[lowered.outcome] >= worth[judge(given).outcome]


@pytest.mark.parametrize(
    ("answer", "regulator_psi", "system_psi", "outcome"),
    [
        ("unknown", 110, 100, "kept"),
        ("unknown", 100, 100, "broken"),
        ("yes", 110, 100, "kept"),
        ("yes", 90, 100, "in_doubt"),
        ("no", 110, 100, "broken"),
        ("yes", None, 100, "kept"),
        ("unknown", 110, None, "in_doubt"),
    ],
)
def test_pressures_written_down_settle_or_contradict_the_regulator_answer(
    answer, regulator_psi, system_psi, outcome
):
    pressures = {"regulator_gauge_pa": regulator_psi, "system_gauge_pa": system_psi}
    given = {name: psi and psi * PSI for name, psi in pressures.items()}
    assert judge(ALL_DONE | {"regulator_above_system": answer} | given).outcome == outcome
