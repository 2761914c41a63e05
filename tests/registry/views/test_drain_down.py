"""The drain-down helper: the set-point, the gas, the verdict before it is written."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.urls import reverse
from django.utils import timezone

from registry.models import System
from registry.runs.planning import cover_for_drain_down
from tests.factories import PSI, make_pipe_run, make_system
from tests.html import one_line

ALL_DONE = {
    "nitrogen_before_opening": "yes",
    "regulator_above_system": "yes",
    "flow_until_empty": "yes",
    "one_drain_at_a_time": "yes",
}


@pytest.fixture
def wet(world):
    system = make_system(world.site, world.owner, service_pressure_gauge_pa=80 * PSI)
    make_pipe_run(system, world.owner)
    return system


@pytest.fixture
def technicians(client, technician):
    client.force_login(technician)
    return client


def url(system):
    return reverse("registry:drain-down", args=[system.pk])


def cover(system, gauge_psi, volume_m3=1.0):
    return cover_for_drain_down(
        system, system_gauge_pa=gauge_psi * PSI, volume_m3=volume_m3, temperature_k=294.25
    )


def tell(client, system, seen="", **answers):
    when = timezone.now() - timedelta(hours=1)
    data = {"client_key": uuid4(), "occurred_at": when.isoformat(), "extent": "whole", **answers}
    return client.post(url(system), data | ({"seen": seen} if seen else {}))


def test_the_set_point_stands_about_ten_psi_above_the_system(wet):
    assert cover(wet, 80).set_point_gauge_pa == pytest.approx(90 * PSI)
    assert not cover(wet, 80).is_limited


def test_the_set_point_never_passes_the_rated_pressure(wet):
    limited = cover(wet, 170)
    assert limited.set_point_gauge_pa == pytest.approx(175 * PSI)
    assert limited.is_limited
    assert limited.is_enough


@pytest.mark.parametrize("gauge_psi", [175, 180])
def test_a_system_at_its_rated_pressure_cannot_be_pushed(wet, gauge_psi):
    assert not cover(wet, gauge_psi).is_enough


def test_cover_fills_the_emptied_pipe_at_the_set_point(wet):
    # V P / P_std at 70 degF: 1 m3 at 90 psi gauge and 101.325 kPa is 7.124 m3.
    assert cover(wet, 80).nitrogen_m3 == pytest.approx(7.124, abs=0.002)


def test_the_page_works_it_out_from_the_register(technicians, wet):
    text = one_line(technicians.get(url(wet)))
    assert "Set the regulator to 90 psi gauge" in text
    assert "Close the main drain before opening an auxiliary drain." in text
    assert "Whole cylinders" in text
    assert "Draining takes the fire protection away" in text


def test_the_page_follows_the_gauge(technicians, wet):
    text = one_line(technicians.get(url(wet), {"system_gauge_pa": "120 psi"}))
    assert "Set the regulator to 130 psi gauge" in text


def test_the_page_refuses_at_the_rated_pressure_with_the_reason(technicians, wet):
    text = one_line(technicians.get(url(wet), {"system_gauge_pa": "175 psi"}))
    assert "Not possible at these pressures" in text
    assert "Bring the water pressure down first" in text


def test_the_page_waits_for_a_pressure_that_is_not_on_record(technicians, system):
    page = technicians.get(url(system))
    assert page.context["cover"] is None
    assert "The plan needs more facts" in one_line(page)


def test_nothing_is_called_wrong_before_anybody_typed(technicians, system):
    page = technicians.get(url(system))
    assert page.context["cover_form"].errors == {}
    assert "Missing from the register" in one_line(page)
    typed = technicians.get(url(system), {"system_gauge_pa": "much"})
    assert "system_gauge_pa" in typed.context["cover_form"].errors


def test_the_rule_of_thumb_speaks_the_units_of_the_reader(client, technician, wet):
    technician.display_units = "si"
    technician.save()
    client.force_login(technician)
    text = one_line(client.get(url(wet)))
    assert "about 0.689 bar above the system" in text
    assert "about 10" not in text


def test_the_answers_start_from_what_was_worked_out(technicians, wet):
    form = technicians.get(url(wet), {"system_gauge_pa": "100 psi"}).context["form"]
    assert form.initial["regulator_gauge_pa"] == pytest.approx(110 * PSI)
    assert form.initial["system_gauge_pa"] == pytest.approx(100 * PSI)


@pytest.mark.parametrize(
    ("answers", "outcome", "words"),
    [
        (ALL_DONE, "kept", "The nitrogen stayed in."),
        (ALL_DONE | {"one_drain_at_a_time": "no"}, "broken", "Air got in"),
        (ALL_DONE | {"flow_until_empty": "unknown"}, "in_doubt", "In doubt"),
    ],
)
def test_the_verdict_is_shown_before_anything_is_written(technicians, wet, answers, outcome, words):
    response = tell(technicians, wet, **answers)
    assert response.context["verdict"].outcome == outcome
    assert words in one_line(response)
    assert not wet.records.filter(kind="event.drain_down").exists()


def test_once_seen_the_verdict_is_written_and_the_state_follows(technicians, wet):
    answers = ALL_DONE | {"one_drain_at_a_time": "no"}
    assert tell(technicians, wet, seen="broken", **answers).url == wet.get_absolute_url()
    record = wet.records.get(kind="event.drain_down")
    assert record.details["one_drain_at_a_time"] == "no"
    state = System.objects.with_atmosphere(timezone.now()).get(pk=wet.pk).atmosphere_state
    assert state == "aerated"


def test_answers_changed_after_the_verdict_are_judged_again(technicians, wet):
    response = tell(technicians, wet, seen="kept", **ALL_DONE | {"flow_until_empty": "no"})
    assert response.context["verdict"].outcome == "broken"
    assert not wet.records.filter(kind="event.drain_down").exists()


def test_told_twice_with_one_key_is_written_once(technicians, wet):
    key = uuid4()
    for _ in range(2):
        tell(technicians, wet, seen="kept", client_key=key, **ALL_DONE)
    assert wet.records.filter(kind="event.drain_down").count() == 1


def test_an_answer_left_out_is_asked_for_and_the_others_stay(technicians, wet):
    answers = {name: word for name, word in ALL_DONE.items() if name != "flow_until_empty"}
    response = tell(technicians, wet, note="Riser room flooded", **answers)
    assert response.status_code == 422
    assert "flow_until_empty" in response.context["form"].errors
    assert "Riser room flooded" in one_line(response)


def test_a_viewer_reads_the_plan_and_may_not_tell(client, viewer, wet):
    client.force_login(viewer)
    assert "Afterwards: how it went" not in one_line(client.get(url(wet)))
    assert tell(client, wet, **ALL_DONE).status_code == 403


def test_a_stranger_finds_nothing(client, stranger, wet):
    client.force_login(stranger)
    assert client.get(url(wet)).status_code == 404
    assert tell(client, wet, **ALL_DONE).status_code == 404


@pytest.mark.django_db
def test_turning_the_regulator_down_saves_the_gas_between_the_two_pressures(wet):
    """By hand: 90 psi and 5 psi over the air differ by 85/14.696 = 5.78 volumes of the pipe."""
    found = cover(wet, 80)
    assert found.turned_down_gauge_pa == pytest.approx(5 * PSI)
    assert found.saved_m3 == pytest.approx(85 / 14.696, rel=0.02)
    assert found.saved_m3 < found.nitrogen_m3


@pytest.mark.django_db
def test_the_plan_says_when_to_turn_it_down_and_what_that_saves(technicians, wet):
    html = one_line(technicians.get(url(wet)))
    assert "Turn it down" in html and "Once water runs steadily from the main drain" in html
