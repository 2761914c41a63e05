"""An owner switches and tunes its rules, and what is open follows."""

import pytest
from django.urls import reverse

from registry.models import OwnerPolicy
from scheduling import services
from scheduling.follow_ups.tuning import rule_rows, tuning_of
from scheduling.jobs.sweep import sweep
from scheduling.models import RuleSetting
from scheduling.rules import RULES, rule_of
from scheduling.services import ruling
from tests.factories import NOW, make_record, make_system
from tests.scheduling.ledger import DAY, ORDER, accept, open_work
from tests.scheduling.orders_world import make_order

pytestmark = pytest.mark.django_db
INSIDE = ("obstruction", "Obstruction investigation")


@pytest.fixture
def leak(system):
    """Inert pipe with a pinhole through which no air came."""
    accept(system, NOW - 40 * DAY)
    return make_record(
        system, "event.leak", NOW - DAY, form="pinhole", through="gas", air_entered="no"
    )


def set_rule(world, code, **facts):
    facts = {"is_on": True, **facts}
    return services.set_rule(
        owner=world.owner_organisation, rule=rule_of(code), changed_by=world.owner, now=NOW, **facts
    )


def test_a_leak_raises_an_investigation_and_a_clear_look_closes_it(system, leak):
    task = system.tasks.get(rule="obstruction")
    assert (task.kind, task.cause) == ("obstruction", leak)
    look = make_record(system, "reading.obstruction", NOW, finding="clear")
    task.refresh_from_db()
    assert (task.status, task.closed_by) == ("done", look)


def test_taking_the_leak_back_withdraws_the_investigation(system, leak, owner):
    from registry.services import withdraw

    withdraw(record=leak, reason="Another system", recorded_by=owner, now=NOW)
    assert system.tasks.get(rule="obstruction").status == "withdrawn"


def test_switching_a_rule_off_withdraws_what_it_has_open_and_on_opens_it_again(system, leak, world):
    set_rule(world, "obstruction", is_on=False)
    task = system.tasks.get(rule="obstruction")
    assert task.status == "withdrawn"
    assert task.closing_note == "Withdrawn: the owner switched its rule off."
    assert INSIDE not in open_work(system)
    set_rule(world, "obstruction")
    assert INSIDE in open_work(system)


def test_the_days_of_an_order_are_written_to_the_owners_policy(system, world):
    order = make_order(system)
    set_rule(world, "aerated", days=3, points=50.0)
    assert OwnerPolicy.objects.get().order_within_days == 3
    order.refresh_from_db()
    assert order.due_on == (NOW + 3 * DAY).date()
    assert "policy's limit comes first" in order.due_because.replace("The p", "p")


def test_settings_of_one_owner_leave_another_alone(world):
    set_rule(world, "low_points", days=9)
    assert tuning_of(world.owner_organisation)["low_points"].days == 9
    assert tuning_of(world.other_owner)["low_points"].days is None


def test_what_is_too_much_for_a_page_is_left_to_the_sweep(world, monkeypatch):
    monkeypatch.setattr(ruling, "AT_ONCE", 1)
    systems = [make_system(world.site, world.owner, tag=f"NQ-30{n}") for n in range(3)]
    for one in systems:
        make_order(one)
    assert set_rule(world, "aerated", is_on=False) == 2
    assert sum(ORDER in open_work(one) for one in systems) == 2
    sweep(NOW)
    assert not any(ORDER in open_work(one) for one in systems)


def test_every_rule_has_a_row_that_says_what_it_does_and_waits_for(world):
    rows = rule_rows(world.owner_organisation)
    assert [row.rule for row in rows] == list(RULES)
    assert all(row.rule.title and row.rule.waits_for and row.rule.basis for row in rows)


def test_the_page_lists_every_rule_and_a_reader_gets_no_links_to_change_them(client, world):
    address = reverse("scheduling:rules-owner", args=[world.owner_organisation.pk])
    edit = reverse("scheduling:rule-edit", args=[world.owner_organisation.pk, "aerated"])
    client.force_login(world.owner)
    html = client.get(address).content.decode()
    assert all(rule.title in html for rule in RULES)
    assert edit in html
    client.force_login(world.viewer)
    assert edit not in client.get(address).content.decode()


def test_the_form_switches_a_rule_off(client, world, system, leak):
    client.force_login(world.owner)
    address = reverse("scheduling:rule-edit", args=[world.owner_organisation.pk, "obstruction"])
    assert client.post(address, {"days": "20"}).status_code == 302
    setting = RuleSetting.objects.get()
    assert (setting.is_on, setting.days, setting.changed_by) == (False, 20, world.owner)


def test_the_form_keeps_what_was_typed_and_says_what_would_be_right(client, world):
    client.force_login(world.owner)
    address = reverse("scheduling:rule-edit", args=[world.owner_organisation.pk, "aerated"])
    html = client.post(address, {"is_on": "on", "days": "0", "points": "2"}).content.decode()
    assert "greater than or equal to 1" in html
    assert not RuleSetting.objects.exists()


def test_levels_are_changed_on_their_page(client, world):
    client.force_login(world.owner)
    address = reverse("scheduling:rule-levels", args=[world.owner_organisation.pk])
    data = {
        "level-TOTAL_FORMS": "3", "level-INITIAL_FORMS": "2",
        "level-0-after_days": "2", "level-0-told": "worker",
        "level-1-after_days": "9", "level-1-told": "person", "level-1-person": world.viewer.pk,
        "level-2-after_days": "", "level-2-told": "",
    }  # fmt: skip
    assert client.post(address, data).status_code == 302
    kept = world.owner_organisation.escalation_levels.values_list("level", "after_days", "told")
    assert list(kept) == [(1, 2, "worker"), (2, 9, "person")]
    data["level-1-after_days"] = "1"
    assert "more days than the one before" in client.post(address, data).content.decode()
