"""Logging a run step by step, through the pages."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.urls import reverse
from django.utils import timezone

from registry.models import InertingRun
from tests.factories import make_system
from tests.registry.runs_world import answer, do, kinds, plan_url, start, step_url
from tests.restoration import RESTORED


def test_the_run_page_asks_one_question_and_shows_what_to_expect(technicians, run):
    text = technicians.get(run.get_absolute_url()).content.decode()
    shown, _, _ = text.partition("<template")
    assert shown.count("<h1>") == 1
    assert "Fill 1: is the pressure reached?" in text
    assert "Last reading" in text
    assert "Next reads" in text
    assert "Stop the run here" in text


def test_the_page_carries_the_questions_that_may_follow_without_a_connection(technicians, run):
    page = technicians.get(run.get_absolute_url())
    assert [step["name"] for step in page.context["ahead"]] == [
        "filled", "read", "held", "purged", "final_purge", "water_filled", "returned",
    ]  # fmt: skip
    assert page.context["state"]["demands"]["target_n2_percent"] == 98.0
    ahead = page.content.decode().partition('<template id="ahead">')[2].partition("</template>")[0]
    assert "Accepted" not in ahead and "Not accepted" not in ahead


@pytest.mark.parametrize(
    ("title", "minded"),
    [
        ("is the pressure reached?", "Cylinders hold gas at high pressure"),
        ("is the pressure reached?", "Never use oxygen in place of nitrogen"),
        ("what does the vent read?", "Nitrogen displaces the air people breathe"),
        ("purged to zero?", "Nitrogen displaces the air people breathe"),
        ("Nitrogen vented to zero?", "Nitrogen displaces the air people breathe"),
    ],
)
def test_what_can_hurt_in_a_step_stands_before_its_form(technicians, run, title, minded):
    """On the page of the book, and on those the phone keeps for when it has no connection."""
    page = technicians.get(run.get_absolute_url()).text
    asked = [part for part in page.split("<h1>")[1:] if title in part.partition("</h1>")[0]]
    assert asked
    for part in asked:
        assert minded in part.partition('<form class="entry"')[0]


def test_pipe_that_keeps_its_gas_is_asked_for_no_water(technicians, world):
    dry = make_system(world.site, world.owner, kind="dry", volume_override_m3=1.0)
    start(technicians, dry, start_n2_percent="79.05 %")
    page = technicians.get(InertingRun.objects.get(system=dry).get_absolute_url())
    assert [step["name"] for step in page.context["ahead"]][4:] == ["returned"]


def test_a_whole_run_through_the_pages_ends_returned(technicians, run):
    do(technicians, run, 92.9, "purge", 97.6, "purge", 99.2)
    answer(technicians, run, "final_purge", pressure_gauge_pa="0 psi")
    answer(technicians, run, "water_filled", pressure_gauge_pa="85 psi")
    answer(technicians, run, "returned", **RESTORED)
    run.refresh_from_db()
    assert run.status == "returned"
    page = technicians.get(run.get_absolute_url()).content.decode()
    assert reverse("reports:certificate", args=[run.pk]) in page


def test_a_bare_number_is_read_in_the_unit_shown_in_the_field(technicians, run):
    answer(technicians, run, "filled-1", pressure_gauge_pa="30")
    assert run.records.last().details["pressure_gauge_pa"] == pytest.approx(206_843, abs=1)


def test_a_wrong_answer_logs_nothing_and_stays_in_the_field(technicians, run):
    response = answer(technicians, run, "filled-1", pressure_gauge_pa="about thirty")
    assert response.status_code == 422
    assert "about thirty" in response.content.decode()
    assert kinds(run) == ["started"]


def test_a_tapped_twice_step_is_logged_once(technicians, run):
    key = uuid4()
    for _ in range(2):
        response = answer(technicians, run, "filled-1", key, pressure_gauge_pa="30 psi")
        assert response.url == run.get_absolute_url()
    assert kinds(run) == ["started", "filled"]


def test_another_answer_on_a_page_gone_back_to_is_shown_beside_the_first(technicians, run):
    key = uuid4()
    answer(technicians, run, "filled-1", key, pressure_gauge_pa="30 psi")
    response = answer(technicians, run, "filled-1", key, pressure_gauge_pa="35 psi")
    assert response.status_code == 409
    assert "35 psi" in response.content.decode()
    kept = answer(
        technicians, run, "filled-1", response.context["key"], pressure_gauge_pa="35 psi",
        is_extra="1",
    )  # fmt: skip
    assert kept.status_code == 302
    assert run.records.last().kind == "reading.pressure"


def test_an_entry_held_back_by_the_phone_keeps_the_time_it_was_made(technicians, system):
    begun = timezone.now() - timedelta(hours=3)
    start(technicians, system, opened_at=begun.isoformat())
    run = InertingRun.objects.get()
    answer(technicians, run, "filled-1", pressure_gauge_pa="30 psi", held_ms=3_600_000)
    age = timezone.now() - run.records.last().occurred_at
    assert timedelta(minutes=59) < age < timedelta(minutes=61)


def test_a_step_can_be_given_an_earlier_time(technicians, system):
    start(technicians, system, opened_at="2026-05-01 09:00")
    run = InertingRun.objects.get()
    response = answer(
        technicians, run, "filled-1", pressure_gauge_pa="30 psi", occurred_at="2026-05-01T09:40"
    )
    assert response.status_code == 302
    assert run.records.last().occurred_at.isoformat() == "2026-05-01T08:40:00+00:00"


def test_a_step_before_the_run_began_is_refused_with_the_reason(technicians, run):
    response = answer(
        technicians, run, "filled-1", pressure_gauge_pa="30 psi", occurred_at="2020-01-01T09:00"
    )
    assert response.status_code == 422
    assert "came after it" in response.content.decode()


def test_a_questioned_reading_shows_causes_and_both_ways_on(technicians, run):
    answer(technicians, run, "filled-1", pressure_gauge_pa="30 psi")
    response = answer(technicians, run, "read-1", n2_percent="84")
    text = response.content.decode()
    assert response.status_code == 422
    assert "Check this reading" in text
    assert "Water is left in the pipe" in text
    assert "Keep this reading" in text
    assert "Read again" in text
    assert kinds(run) == ["started", "filled"]


def test_a_questioned_reading_that_is_kept_is_in_the_book_with_the_question(technicians, run):
    answer(technicians, run, "filled-1", pressure_gauge_pa="30 psi")
    response = answer(technicians, run, "read-1", n2_percent="84", is_kept="1")
    assert response.status_code == 302
    assert "Water is left" in run.records.last().details["questioned"]


def test_two_people_at_one_step_see_both_entries_and_choose(technicians, owners, run):
    answer(technicians, run, "filled-1", pressure_gauge_pa="30 psi")
    answer(technicians, run, "read-1", n2_percent="92.9")
    key = uuid4()
    response = answer(owners, run, "read-1", key, n2_percent="92.6", where="Roof vent")
    text = response.content.decode()
    assert response.status_code == 409
    assert "Tam Technician" in text
    assert "Nitrogen: 92.9 %" in text
    assert "Nitrogen: 92.6 %" in text
    kept = answer(owners, run, "read-1", key, n2_percent="92.6", is_extra="1")
    assert kept.status_code == 302
    assert kinds(run) == ["started", "filled", "read", "read"]


def test_a_fill_can_be_read_once_more_before_its_purge(technicians, run):
    do(technicians, run, 92.9)
    page = technicians.get(run.get_absolute_url(), {"again": ""})
    assert page.context["form"].step.token == "read-1"
    assert page.context["is_extra"]
    answer(technicians, run, "read-1", n2_percent="93.1", is_extra="1")
    assert technicians.get(run.get_absolute_url()).context["form"].step.token == "purged-1"


def test_above_the_rated_pressure_is_asked_about_then_logged_and_warned_of(technicians, run):
    asked = answer(technicians, run, "filled-1", pressure_gauge_pa="190 psi")
    assert asked.status_code == 422
    assert "above the rated working pressure" in asked.content.decode()
    assert kinds(run) == ["started"]
    response = technicians.post(
        step_url(run),
        {
            "token": "filled-1",
            "client_key": uuid4(),
            "pressure_gauge_pa": "190 psi",
            "is_kept": "1",
            "asked": "pressure_gauge_pa=190 psi",
        },
        follow=True,
    )
    assert "above the rated working pressure" in response.content.decode()
    assert kinds(run) == ["started", "filled"]
    assert "190 psi" in run.records.last().details["questioned"]


def test_looking_at_a_step_address_leads_to_the_run(technicians, run):
    assert technicians.get(step_url(run)).url == run.get_absolute_url()


@pytest.mark.parametrize("token", ["", "accepted-1", "read-99", "<b>"])
def test_a_step_that_does_not_exist_is_not_found(technicians, run, token):
    assert answer(technicians, run, token).status_code == 404


def test_a_step_without_a_key_is_refused(technicians, run):
    response = technicians.post(step_url(run), {"token": "filled-1", "pressure_gauge_pa": "30"})
    assert response.status_code == 422
    assert kinds(run) == ["started"]


def pages(run):
    return [
        plan_url(run.system),
        run.get_absolute_url(),
        step_url(run),
        reverse("registry:run-stop", args=[run.pk]),
    ]


def test_a_stranger_finds_nothing(run, client, stranger):
    client.force_login(stranger)
    for url in pages(run):
        assert client.get(url).status_code == 404
        assert client.post(url, {}).status_code in (404, 405)


def test_a_viewer_reads_and_may_not_write(run, client, viewer):
    client.force_login(viewer)
    assert client.get(run.get_absolute_url()).status_code == 200
    assert "may follow this run" in client.get(run.get_absolute_url()).content.decode()
    assert client.get(plan_url(run.system)).status_code == 200
    for url in (plan_url(run.system), step_url(run), reverse("registry:run-stop", args=[run.pk])):
        assert client.post(url, {}).status_code == 403


def test_the_run_page_asks_a_fixed_number_of_questions_of_the_database(
    technicians, run, django_assert_max_num_queries
):
    do(technicians, run, 92.9, "purge", 97.6, "purge")
    with django_assert_max_num_queries(16):
        technicians.get(run.get_absolute_url())


def test_a_meter_that_shows_oxygen_is_answered_with_one_tap(technicians, run):
    answer(technicians, run, "filled-1", pressure_gauge_pa="30")
    asked = answer(technicians, run, "read-1", n2_percent="7.1")
    text = asked.content.decode()
    assert asked.status_code == 422
    assert "The meter showed oxygen: log 92.9 % nitrogen" in text
    assert 'value="7.1"' in text
    answer(technicians, run, "read-1", n2_percent="7.1", instead="n2_percent=92.9 %")
    details = run.records.last().details
    assert details["n2_percent"] == 92.9
    assert "7.1 was typed first" in details["questioned"]


@pytest.mark.parametrize("typed", ["7.1", "7,1", "7.1 % O2"])
def test_the_switch_beside_the_field_says_what_the_meter_shows(technicians, run, typed):
    answer(technicians, run, "filled-1", pressure_gauge_pa="30")
    answer(technicians, run, "read-1", n2_percent=typed, n2_percent_unit="% O2")
    details = run.records.last().details
    assert details == {"fill": 1, "n2_percent": pytest.approx(92.9)}


def test_what_was_kept_is_not_kept_for_another_number(technicians, run):
    answer(technicians, run, "filled-1", pressure_gauge_pa="30")
    asked = {"is_kept": "1", "asked": "n2_percent=40"}
    response = answer(technicians, run, "read-1", n2_percent="4", **asked)
    assert response.status_code == 422
    assert kinds(run) == ["started", "filled"]


def test_more_than_all_of_the_gas_cannot_be_kept(technicians, run):
    answer(technicians, run, "filled-1", pressure_gauge_pa="30")
    response = answer(technicians, run, "read-1", n2_percent="934", is_kept="1")
    text = response.content.decode().partition("<template")[0]
    assert "log 93.4 %" in text
    assert "It is right: keep it" not in text
    assert kinds(run) == ["started", "filled"]


def test_a_pressure_is_read_in_the_unit_chosen_beside_it(technicians, run):
    answer(technicians, run, "filled-1", pressure_gauge_pa="2,1", pressure_gauge_pa_unit="bar")
    assert run.records.last().details["pressure_gauge_pa"] == pytest.approx(210_000)


def test_three_thousand_psi_is_the_gauge_of_the_cylinder(technicians, run):
    response = answer(technicians, run, "filled-1", pressure_gauge_pa="3000")
    assert "The gauge of the cylinder was read" in response.content.decode()
    assert kinds(run) == ["started"]


def test_zero_is_said_by_a_tap_and_never_by_the_form(technicians, run):
    do(technicians, run, 92.9)
    page = technicians.get(run.get_absolute_url())
    assert page.context["form"]["pressure_gauge_pa"].value() is None
    clash = answer(technicians, run, "purged-1", pressure_gauge_pa="2 psi", at_zero="1")
    assert clash.status_code == 422
    answer(technicians, run, "purged-1", pressure_gauge_pa="", at_zero="1")
    assert run.records.last().details["pressure_gauge_pa"] == 0
