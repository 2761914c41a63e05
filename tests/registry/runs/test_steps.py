"""The order of steps of a run, without a database."""

from types import SimpleNamespace

import pytest

from registry.runs.steps import (
    RunStep,
    current_fill,
    is_correctable,
    may_accept,
    next_step,
    status_after,
)


def steps(*words: str) -> list[SimpleNamespace]:
    """“filled 1” -> a logged step of that kind and fill."""
    made = []
    for word in words:
        name, _, fill = word.partition(" ")
        details = {"fill": int(fill)} if fill else {}
        made.append(SimpleNamespace(kind=f"inerting.{name}", details=details))
    return made


FIRST_FILL = ("started", "filled 1", "read 1", "purged 1")
ACCEPTED = (*FIRST_FILL, "filled 2", "read 2", "accepted 2")


@pytest.mark.parametrize(
    ("logged", "token"),
    [
        (("started",), "filled-1"),
        (("started", "filled 1"), "read-1"),
        (("started", "filled 1", "read 1"), "purged-1"),
        (FIRST_FILL, "filled-2"),
        ((*FIRST_FILL, "filled 2"), "read-2"),
        (ACCEPTED, "final_purge"),
        ((*ACCEPTED, "final_purge"), "water_filled"),
        ((*ACCEPTED, "final_purge", "water_filled"), "returned"),
    ],
)
def test_each_step_of_a_wet_system_leads_to_the_next(logged, token):
    assert next_step(steps(*logged), takes_water=True).token == token


def test_pipe_that_holds_gas_in_service_keeps_its_nitrogen_after_acceptance():
    assert next_step(steps(*ACCEPTED), takes_water=False).token == "returned"


@pytest.mark.parametrize("end", ["returned", "stopped"])
def test_a_run_that_ended_has_no_next_step(end):
    assert next_step(steps(*ACCEPTED, end), takes_water=True) is None


def test_a_second_reading_of_a_fill_does_not_move_the_run_on():
    logged = steps("started", "filled 1", "read 1", "read 1")
    assert next_step(logged, takes_water=True).token == "purged-1"


def test_status_follows_the_steps():
    assert status_after(steps("started")) == "open"
    assert status_after(steps(*ACCEPTED)) == "accepted"
    assert status_after(steps(*ACCEPTED, "returned")) == "returned"
    assert status_after(steps("started", "filled 1", "stopped")) == "stopped"
    assert current_fill(steps("started")) == 0


def test_only_the_last_fill_before_its_purge_can_be_accepted():
    assert may_accept(steps("started", "filled 1", "read 1"), 1)
    assert not may_accept(steps(*FIRST_FILL), 1)
    assert not may_accept(steps(*ACCEPTED), 2)


def test_steps_of_a_fill_stay_correctable_until_the_run_goes_on_after_acceptance():
    logged = steps(*ACCEPTED)
    reading = logged[5]
    assert is_correctable(reading, logged)
    assert not is_correctable(logged[-1], logged)
    assert not is_correctable(reading, steps(*ACCEPTED, "final_purge"))


@pytest.mark.parametrize("token", ["filled-1", "read-50", "purged-2", "final_purge", "returned"])
def test_a_token_names_its_step(token):
    assert RunStep.from_token(token).token == token


@pytest.mark.parametrize(
    "token",
    ["", "read", "read-0", "read-51", "read-x", "read-²", "returned-1", "accepted-1", "x-1"],
)
def test_a_token_that_names_no_step_is_refused(token):
    with pytest.raises(ValueError, match="not a step"):
        RunStep.from_token(token)
