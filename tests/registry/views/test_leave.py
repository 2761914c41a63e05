"""Planned work asks for the owner's leave before the valve moves."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.urls import reverse
from django.utils import timezone

from registry.models import InertingRun, Record
from reports.certificate.acceptance import leave_words
from tests.registry.runs_world import plan_url, start

pytestmark = pytest.mark.django_db


def post(client, system, kind="event.valve_closed", **answers):
    then = timezone.now() - timedelta(minutes=5)
    sent = {
        "occurred_at": timezone.localtime(then, system.site.zone).strftime("%Y-%m-%dT%H:%M"),
        "client_key": uuid4(), "valve": "CV-1",
    }  # fmt: skip
    return client.post(reverse("registry:record-new", args=[system.pk, kind]), sent | answers)


@pytest.mark.parametrize(
    ("answers", "words"),
    [
        ({}, "say whether it was given"),
        ({"leave": "emergency"}, "choose one of them"),
    ],
)
def test_planned_work_says_whether_leave_was_given(technicians, system, answers, words):
    response = post(technicians, system, planned="planned", **answers)
    assert words in str(response.context["form"].errors["leave"])
    assert not Record.objects.filter(kind="event.valve_closed").exists()


@pytest.mark.parametrize(("leave", "told"), [("no", True), ("yes", False), ("unknown", False)])
def test_work_without_leave_is_said_where_protection_is_shown(technicians, system, leave, told):
    response = post(technicians, system, planned="planned", leave=leave, leave_by="O. Manager")
    assert response.status_code == 302, response.context["form"].errors
    details = Record.objects.get(kind="event.valve_closed").details
    assert details["leave"] == leave
    reason = system.protection_spans.last().reason
    assert ("without the owner's leave" in reason) is told


def test_an_emergency_does_not_wait_for_leave(technicians, system):
    assert post(technicians, system, planned="emergency").status_code == 302
    assert post(technicians, system, planned="emergency", leave="emergency").status_code == 302


def test_a_run_is_not_started_before_the_question_is_answered(technicians, system):
    page = technicians.get(plan_url(system))
    assert page.context["leave"]["leave"].value() is None
    response = start(technicians, system, leave="")
    assert response.status_code == 422
    assert "say whether the owner gave leave" in response.content.decode()
    assert not InertingRun.objects.exists()


def test_a_run_holds_the_answer_and_the_certificate_can_say_it(technicians, system):
    start(technicians, system, leave="no")
    run = InertingRun.objects.get()
    assert run.records.get().details["leave"] == "no"
    assert leave_words(list(run.records.all())) == "No"
    assert "without the owner's leave" in system.protection_spans.last().reason
