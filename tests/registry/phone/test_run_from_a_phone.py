"""A run's stop that a phone had kept, and its answer to a reading that it questioned itself."""

from datetime import timedelta
from uuid import uuid4

from django.urls import reverse
from django.utils import timezone

from registry.forms.run_edges import StopForm
from tests.registry.runs_world import answer, do, step_url


def send(technicians, address, person, **facts):
    sent = {"client_key": str(uuid4()), "held_ms": "0"} | facts
    return technicians.post(address, sent, headers={"X-Kept-By": str(person.uuid)})


def stop(technicians, run, person, **facts):
    address = reverse("registry:run-stop", args=[run.pk])
    told = {"reason": "Rain", "left_as": "At 30 psi"}
    return send(technicians, address, person, **told | facts)


def test_a_stop_counts_from_when_it_was_made(run):
    told = {"client_key": str(uuid4()), "reason": "Rain", "left_as": "At 30 psi"}
    form, now = StopForm(told | {"held_ms": "90000"}, run=run), timezone.now()
    assert form.is_valid()
    assert form.occurred_at(now) == now - timedelta(seconds=90)


def test_a_stop_sent_twice_is_written_once(technicians, run, technician):
    key = str(uuid4())
    first = stop(technicians, run, technician, client_key=key)
    again = stop(technicians, run, technician, client_key=key, held_ms="60000")
    assert first.json() == again.json()
    assert run.records.filter(kind="inerting.stopped").count() == 1


def test_a_stop_of_a_run_that_had_ended_is_told_apart_from_an_expired_session(
    technicians, run, technician
):
    stop(technicians, run, technician)
    late = stop(technicians, run, technician, reason="Storm")
    assert late.status_code == 409
    assert late.json()["is"] == "not_written"
    assert run.records.filter(kind="inerting.stopped").count() == 1


def read(technicians, run, person, **facts):
    return send(technicians, step_url(run), person, token="read-1", n2_percent="84", **facts)


def test_the_answer_to_the_band_question_of_a_phone_is_taken(technicians, run, technician):
    do(technicians, run)
    answer(technicians, run, "filled-1", pressure_gauge_pa="30")
    kept = {"is_kept": "1", "asked_by_phone": "1"}
    other = read(technicians, run, technician, **kept)  # asked about something else
    assert other.status_code == 422
    stale = read(technicians, run, technician, **kept, band_asked="82")
    assert stale.status_code == 422
    taken = read(technicians, run, technician, **kept, band_asked="84")
    assert taken.json()["is"] == "written"
    assert run.records.get(kind="inerting.read").details["questioned"]
