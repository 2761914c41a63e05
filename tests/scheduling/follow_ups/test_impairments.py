"""Impairments as the ledger tells them, and the page that keeps the fire-watch clock in sight."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from scheduling.follow_ups.impairments import ImpairmentPanel
from tests.factories import NOW, make_record
from tests.restoration import RESTORED
from tests.scheduling.ledger import unclear_drain_down

pytestmark = pytest.mark.django_db
HOUR = timedelta(hours=1)
NIGHT = timezone.now().date() - timedelta(days=2)  # views read the clock themselves


def begin(system, hours_ago, areas="Bay 1", now=NOW):
    at = now - hours_ago * HOUR
    return make_record(system, "event.impairment_start", at, now=now, areas=areas)


def end(system, hours_ago, now=NOW, **answers):
    at = now - hours_ago * HOUR
    return make_record(system, "event.impairment_end", at, now=now, **RESTORED, **answers)


def test_outages_of_one_day_count_together(system):
    begin(system, 20)
    end(system, 12)
    begin(system, 3)
    panel = ImpairmentPanel.of(system, NOW)
    assert panel.clock.spent == 11 * HOUR
    assert panel.clock.is_over
    assert panel.spent_words == "11 h 00 min"
    assert [row.end is None for row in panel.rows] == [True, False]


def test_two_areas_out_and_one_restored_is_still_impaired(system):
    begin(system, 9, "Bay 1")
    second = begin(system, 8, "Bay 2")
    end(system, 5, ends=str(second.sequence))
    panel = ImpairmentPanel.of(system, NOW)
    assert [row.areas for row in panel.open] == ["Bay 1"]
    assert panel.clock.spent == 9 * HOUR
    ended = end(system, 4, ends="all")
    assert ended in {row.end for row in ImpairmentPanel.of(system, NOW).rows}
    assert ImpairmentPanel.of(system, NOW).clock.spent == 5 * HOUR


def test_a_drained_system_counts_from_its_drain_down(system):
    unclear_drain_down(system, NOW - 3 * HOUR, now=NOW)
    assert ImpairmentPanel.of(system, NOW).spent_words == "3 h 00 min"


def test_with_two_out_the_form_asks_which_has_ended_and_answers_nothing_beforehand(
    client, world, system
):
    now = timezone.now()
    first = begin(system, 3, "Bay 1", now=now)
    begin(system, 2, "Bay 2", now=now)
    client.force_login(world.technician)
    address = reverse("scheduling:impairment-end", args=[system.pk])
    answers = {"occurred_at": f"{now - HOUR / 2:%Y-%m-%dT%H:%M}", **RESTORED}
    asked = client.post(address, answers)
    assert "ends" in asked.context["form"].errors
    assert "checked" not in asked.context["form"]["ends"].as_widget()
    client.post(address, answers | {"ends": str(first.sequence)})
    assert [row.areas for row in ImpairmentPanel.of(system, now).open] == ["Bay 2"]


def test_an_end_without_a_beginning_is_no_impairment(system):
    end(system, 5)
    assert ImpairmentPanel.of(system, NOW).rows == []


def test_a_corrected_beginning_counts_from_its_new_time(system, world):
    from registry.services import record

    wrong = begin(system, 12)
    record(
        system=system, kind=wrong.kind, occurred_at=NOW - 2 * HOUR, details=wrong.details,
        recorded_by=world.owner, supersedes=wrong, now=NOW,
    )  # fmt: skip
    assert ImpairmentPanel.of(system, NOW).clock.spent == 2 * HOUR


def test_the_page_of_the_system_leads_to_the_clock(client, world, system):
    begin(system, 2, now=timezone.now())
    client.force_login(world.viewer)
    page = client.get(reverse("registry:system", args=[system.pk])).content.decode()
    assert reverse("scheduling:impairments", args=[system.pk]) in page


def test_an_impairment_begins_with_those_who_were_told_and_ends_with_checks(client, world, system):
    client.force_login(world.technician)
    response = client.post(
        reverse("scheduling:impairment-start", args=[system.pk]),
        {
            "occurred_at": f"{NIGHT}T23:00",
            "areas": "North wing",
            "coordinator": "Ida Moss",
            "told": ["Fire department", "Insurer"],
        },
    )
    assert response.status_code == 302
    page = client.get(response["Location"]).content.decode()
    assert "Fire department; Insurer" in page
    assert "More than 10 hours in 24" in page
    client.post(
        reverse("scheduling:impairment-end", args=[system.pk]),
        {
            "occurred_at": f"{NIGHT + timedelta(days=1)}T02:30",
            **RESTORED,
            "checks": "Valve open and sealed, main drain flowed",
        },
    )
    page = client.get(response["Location"]).content.decode()
    assert "main drain flowed" in page
    assert "More than 10 hours" not in page


def test_an_impairment_without_its_areas_is_refused(client, world, system):
    client.force_login(world.technician)
    response = client.post(
        reverse("scheduling:impairment-start", args=[system.pk]),
        {"occurred_at": f"{NIGHT}T23:00", "reason": "Valve repair"},
    )
    assert "areas" in response.context["form"].errors
    assert "Valve repair" in response.content.decode()


def test_an_end_expected_before_the_beginning_is_refused_and_a_later_one_is_shown(
    client, world, system
):
    client.force_login(world.technician)
    address = reverse("scheduling:impairment-start", args=[system.pk])
    data = {"occurred_at": f"{NIGHT}T23:00", "areas": "Bay 1"}
    response = client.post(address, data | {"expected_end_on": f"{NIGHT - timedelta(days=1)}"})
    assert "expected_end_on" in response.context["form"].errors
    by = NIGHT + timedelta(days=9)
    page = client.post(address, data | {"expected_end_on": f"{by}"}, follow=True).content.decode()
    assert f"By {by:%-d %B %Y}" in page
