"""Two at once on the same systems, on a database that lets them: neither waits for ever."""

from datetime import timedelta

import pytest
from django.db import connection

from registry.chain import verify
from registry.models import AtmosphereSpan, System
from registry.services import amend_site
from registry.services.assessments import Which, assess_systems
from registry.services.ledger import links
from scheduling.models import RuleRun
from scheduling.recurring import set_winter
from scheduling.rules import RULES
from scheduling.services import set_levels, set_rule
from scheduling.services.confirming import set_confirmation
from tests.factories import NOW, make_record, make_system
from tests.scheduling.recurring_world import adopt
from tests.scheduling.services.test_at_once import at_once

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif(
        connection.vendor == "sqlite",
        reason="a test database in memory has one connection; run with DATABASE_URL of PostgreSQL",
    ),
]
HOUR = timedelta(hours=1)


@pytest.fixture
def systems(world):
    """In the order of their tags the last is first, so that two orders of locking differ."""
    return [make_system(world.site, world.owner, tag=f"NQ-{900 - n}") for n in range(6)]


def assess_often(now=NOW):
    for _ in range(8):
        assess_systems(System.objects.all(), now, which=Which.ALL)


def test_a_site_is_changed_while_events_are_recorded_there(world, systems):
    def record_all():
        for number in range(4):
            for system in systems:
                make_record(system, "event.fire", NOW - (20 - number) * HOUR, world.owner)

    def move_often():
        for altitude in range(10, 60, 10):
            site = type(world.site).objects.get(pk=world.site.pk)
            amend_site(site=site, recorded_by=world.owner, now=NOW, altitude_m=float(altitude))

    at_once(record_all, move_often)
    for system in systems:
        assert verify(links(system)) == []
        starts = AtmosphereSpan.objects.filter(system=system).values_list("starts_at", flat=True)
        assert NOW - 20 * HOUR in starts


@pytest.mark.parametrize("change", ["edition", "site"])
def test_a_site_is_planned_or_changed_while_all_is_assessed(world, systems, change):
    def change_it():
        if change == "edition":
            return adopt(world.site, world.owner)
        return amend_site(site=world.site, recorded_by=world.owner, now=NOW, altitude_m=99.0)

    at_once(change_it, assess_often)
    assert System.objects.count() == len(systems)


@pytest.mark.parametrize("setting", ["rule", "confirming days"])
def test_a_rule_is_set_while_events_are_recorded(world, systems, setting):
    aerated = next(rule for rule in RULES if rule.code == "aerated")
    common = {"owner": world.owner_organisation, "changed_by": world.owner, "now": NOW}
    for system in systems:
        make_record(system, "event.fire", NOW - 30 * HOUR, world.owner)

    def record_all():
        for system in reversed(systems * 3):
            make_record(system, "event.fire", NOW - HOUR, world.owner)

    def set_often():
        for days in range(3, 9):
            if setting == "rule":
                set_rule(rule=aerated, is_on=True, days=days, **common)
            else:
                set_confirmation(is_on=True, confirming_days=[days], repeat_days=365, **common)

    at_once(record_all, set_often)
    assert not RuleRun.objects.filter(done_at=None).exists()


def test_what_is_sent_twice_at_once_is_kept_once(world, systems):
    """A double click: the first is written, the second finds it there."""
    aerated = next(rule for rule in RULES if rule.code == "aerated")
    levels = [{"after_days": 2, "told": "owner", "person": None}]
    owner = world.owner_organisation
    winter = {"has_frost": True, "ready_by": "10-15", "over_from": "04-01", "now": NOW}
    for twice in (
        lambda: adopt(world.site, world.owner),
        lambda: set_winter(site=world.site, **winter),
        lambda: set_rule(owner=owner, rule=aerated, is_on=True, changed_by=world.owner, now=NOW),
        lambda: set_levels(owner=owner, levels=levels),
        lambda: set_confirmation(
            owner=owner, is_on=True, confirming_days=[2, 9], repeat_days=0,
            changed_by=world.owner, now=NOW,
        ),
    ):  # fmt: skip
        at_once(*[twice] * 3)
    assert world.site.adopted_editions.in_force().count() == 1
    assert (owner.rule_settings.count(), owner.escalation_levels.count()) == (2, 1)
