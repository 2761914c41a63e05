"""An owner chooses the days on which an accepted run is confirmed."""

from datetime import timedelta

import pytest
from django.urls import reverse

from registry.models import Assessment, OwnerPolicy, Record, System
from registry.services.assessments import Which, assess_systems
from scheduling import services
from scheduling.jobs.sweep import sweep
from scheduling.models import WorkState
from scheduling.services import confirming
from scheduling.services.confirming import problem_with
from tests.factories import NOW, make_pipe_run, make_system
from tests.scheduling.ledger import DAY, accept, confirmations, nitrogen_check, open_work, read
from tests.scheduling.orders_world import book

HOUR = timedelta(hours=1)


def set_days(world, *days, repeat_days=365, is_on=True, now=NOW):
    return services.set_confirmation(
        owner=world.owner_organisation, is_on=is_on, confirming_days=days,
        repeat_days=repeat_days, changed_by=world.owner, now=now,
    )  # fmt: skip


def reading(system, day):
    return system.tasks.get(title=nitrogen_check(day))


@pytest.mark.parametrize(
    ("days", "said"),
    [
        ([1, 30, 365], ""),
        ([3650], ""),
        ([], "at least one day"),
        ([0, 30], "from 1 to 3650"),
        ([1, 3651], "from 1 to 3650"),
        ([30, 1], "in order they are 1, 30"),
        ([1, 1, 30], "in order they are 1, 30"),
        (list(range(1, 14)), "12 are the most"),
    ],
)
def test_days_are_checked_and_the_answer_says_what_would_be_right(days, said):
    problem = problem_with(days)
    assert said in problem if said else not problem


@pytest.mark.django_db
class TestAcceptedRun:
    @pytest.fixture(autouse=True)
    def _accepted(self, system):
        accept(system, NOW - 10 * DAY)
        read(system, NOW - 9 * DAY, 98.5)

    def test_open_readings_move_to_the_new_days_and_keep_who_has_them_and_what_is_booked(
        self, world, system
    ):
        task = reading(system, 30)
        book(task, world.technician, NOW + 20 * DAY, hours=1)
        set_days(world, 1, 40, 365)
        moved = reading(system, 40)
        assert (moved.pk, moved.uuid, moved.work_state) == (task.pk, task.uuid, WorkState.BOOKED)
        assert moved.starts_at == NOW + 20 * DAY
        assert moved.due_at - task.due_at == 12.5 * DAY
        line = moved.trail.get(what="redated")
        assert line.was["due_at"] == task.due_at.isoformat()
        assert open_work(system) == confirmations(40, 365)

    def test_what_was_closed_and_every_record_stay_as_they_were(self, world, system):
        done = reading(system, 1)
        records = list(Record.objects.values_list("uuid", "hash"))
        set_days(world, 2, 30, 365)
        done.refresh_from_db()
        assert (done.status, done.title) == ("done", "Next-day nitrogen check")
        assert list(Record.objects.values_list("uuid", "hash")) == records
        assert open_work(system) == confirmations(30, 365)

    def test_a_day_more_raises_a_reading_and_a_day_less_withdraws_one(self, world, system):
        set_days(world, 1, 30, 90, 365)
        assert open_work(system) == confirmations(30, 365, 90)
        set_days(world, 1, 30)
        assert open_work(system) == confirmations(30)
        assert {reading(system, 90).status, reading(system, 365).status} == {"withdrawn"}

    def test_a_reading_asked_for_sooner_leaves_the_system_in_doubt_when_nobody_takes_it(
        self, world, system
    ):
        set_days(world, 1, 4, 365)
        assert state_of(system) == "in_doubt"
        set_days(world, 1, 30, 365)
        assert state_of(system) == "inert"

    def test_switched_off_the_rule_withdraws_its_readings(self, world, system):
        set_days(world, 1, 30, 365, is_on=False)
        assert open_work(system) == []

    def test_what_is_too_much_for_a_page_is_left_to_the_sweep(self, world, system, monkeypatch):
        monkeypatch.setattr(confirming, "AT_ONCE", 1)
        second = make_system(world.site, world.owner, tag="NQ-301")
        accept(second, NOW - 10 * DAY)
        read(second, NOW - 9 * DAY, 98.5)
        assert set_days(world, 1, 4, 365) == 1
        assert state_of(second) == "inert"
        services.reconcile(system=second, now=NOW)  # as when somebody declines something there
        assert state_of(second) == "inert"
        sweep(NOW)
        assert (state_of(second), open_work(second)) == ("in_doubt", confirmations(365, 4))

    def test_another_owners_readings_stay(self, world, system):
        other = make_system(world.other_site, world.stranger)
        accept(other, NOW - 10 * DAY)
        set_days(world, 2, 40)
        assert open_work(other) == confirmations(1, 30, 365)

    def test_the_page_changes_the_days_and_shows_them(self, world, system, client):
        client.force_login(world.owner)
        address = reverse("scheduling:rule-edit", args=[world.owner_organisation.pk, "accepted"])
        assert 'value="1, 30, 365"' in client.get(address).content.decode()
        data = {"is_on": "on", "confirming_days": "2 60, 400", "repeat_days": "0"}
        answer = client.post(address, data, follow=True)
        assert "After 2, 60 and 400 days" in answer.content.decode()
        assert OwnerPolicy.objects.get().confirming_days == [2, 60, 400]

    @pytest.mark.parametrize(
        ("typed", "said"),
        [("30, 1", "in order they are 1, 30"), ("1, x", "whole numbers"), ("", "at least one")],
    )
    def test_the_page_says_what_is_wrong_and_keeps_what_was_typed(
        self, world, system, client, typed, said
    ):
        client.force_login(world.owner)
        address = reverse("scheduling:rule-edit", args=[world.owner_organisation.pk, "accepted"])
        data = {"is_on": "on", "confirming_days": typed, "repeat_days": "365"}
        html = client.post(address, data).content.decode()
        assert said in html
        assert not typed or f'value="{typed}"' in html
        assert not OwnerPolicy.objects.exists()


def state_of(system):
    return system.spans.filter(starts_at__lte=NOW).latest("starts_at").state


def test_the_assessments_follow_what_the_days_make_of_the_atmosphere(world):
    """Dry pipe that nobody read is in doubt by the usual days, and inert by longer ones."""
    dry = make_system(world.site, world.owner, tag="NQ-103", kind="dry", gas_supply="cylinders")
    make_pipe_run(dry, world.owner)
    accept(dry, NOW - 500 * DAY)
    assess_systems(System.objects.all(), NOW)
    before = Assessment.objects.latest().get(system=dry).digest
    set_days(world, 1000)
    assert Assessment.objects.latest().get(system=dry).digest != before
    assert assess_systems(System.objects.all(), NOW, which=Which.CHANGED).unchanged == 1
