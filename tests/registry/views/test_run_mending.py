"""Putting a step of a run right and stopping a run, through the pages."""

from uuid import uuid4

import pytest
from django.urls import reverse

from tests.html import one_line
from tests.registry.runs_world import answer, do


def test_a_step_of_a_run_is_corrected_in_the_log_of_the_run(technicians, run):
    step = run.records.first()
    log = f"{run.get_absolute_url()}#log"
    page = one_line(technicians.get(step.get_absolute_url()))
    assert f'href="{log}"> Correct it in the log of the run' in page
    assert technicians.get(reverse("registry:record-correct", args=[step.pk])).url == log


def test_a_mistyped_reading_is_corrected_from_the_run_page(technicians, run):
    do(technicians, run, 92.1)
    wrong = run.records.get(kind="inerting.read")
    url = reverse("registry:run-correct", args=[run.pk, wrong.pk])
    assert "92.1" in one_line(technicians.get(url))
    response = technicians.post(
        url, {"client_key": uuid4(), "token": "read-1", "n2_percent": "93.1"}
    )
    assert response.url == run.get_absolute_url()
    assert wrong.superseded_by.details["n2_percent"] == pytest.approx(93.1)


def test_a_corrected_reading_is_questioned_too(technicians, run):
    do(technicians, run, 92.9)
    wrong = run.records.get(kind="inerting.read")
    url = reverse("registry:run-correct", args=[run.pk, wrong.pk])
    response = technicians.post(url, {"client_key": uuid4(), "token": "read-1", "n2_percent": "82"})
    assert response.status_code == 422
    assert "Keep this reading" in one_line(response)
    assert not wrong.is_superseded


def test_stopping_asks_why_and_how_the_system_is_left(technicians, run):
    url = reverse("registry:run-stop", args=[run.pk])
    assert technicians.get(url).status_code == 200
    missing = technicians.post(url, {"client_key": uuid4(), "reason": "No gas left"})
    assert missing.status_code == 422
    assert "No gas left" in one_line(missing)
    technicians.post(
        url,
        {"client_key": uuid4(), "reason": "No gas left", "left_as": "Full of water again"},
    )
    run.refresh_from_db()
    assert run.status == "stopped"
    assert "The run was stopped" in one_line(technicians.get(run.get_absolute_url()))


def test_a_stop_sent_again_with_another_reason_is_not_said_to_be_on_record(technicians, run):
    url = reverse("registry:run-stop", args=[run.pk])
    sent = {"client_key": uuid4(), "reason": "No gas left", "left_as": "Full of water again"}
    technicians.post(url, sent, follow=True)
    again = technicians.post(url, sent | {"reason": "The valve leaks"}, follow=True)
    assert "The run had ended already" in one_line(again)
    assert "why is on record" not in one_line(again)


def test_only_steps_of_a_fill_have_a_page_of_correction(technicians, run):
    url = reverse("registry:run-correct", args=[run.pk, run.records.get().pk])
    sent = {"client_key": uuid4(), "token": "started"}
    assert (technicians.get(url).status_code, technicians.post(url, sent).status_code) == (404, 404)


def test_a_correction_sent_after_the_run_went_on_says_so(technicians, run):
    do(technicians, run, 92.9, "purge", 97.6, "purge", 99.2)
    last = run.records.filter(kind="inerting.read").last()
    url = reverse("registry:run-correct", args=[run.pk, last.pk])
    answer(technicians, run, "final_purge", pressure_gauge_pa="0 psi")
    sent = {"client_key": uuid4(), "token": "read-3", "n2_percent": "98.1"}
    response = technicians.post(url, sent)
    assert response.status_code == 422
    assert "Steps can be corrected until the run goes on" in one_line(response)
