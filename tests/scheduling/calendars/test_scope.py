"""What a feed holds by its scope, and how loud and how talkative it is."""

import pytest
import vobject
from django.urls import reverse
from django.utils import timezone

from scheduling import services
from scheduling.calendars.tokens import issue_token
from scheduling.models import FeedToken
from tests.factories import make_building, make_site, make_system
from tests.scheduling.ledger import DAY
from tests.scheduling.orders_world import book, make_crew, make_order

pytestmark = pytest.mark.django_db


@pytest.fixture
def now():
    return timezone.now()


@pytest.fixture
def orders(world, system, now):
    """One in a building, one outside it, one at a site that no contractor serves."""
    system.building = make_building(world.site, "Shed 4")
    system.save()
    unserved = make_site(world.owner_organisation, name="South Quay")
    others = [
        make_system(world.site, world.owner, tag="NQ-102"),
        make_system(unserved, world.owner, tag="SQ-1"),
    ]
    return {each.tag: make_order(each, now=now) for each in (system, *others)}


def entries(client, user, **facts):
    _, secret = issue_token(user=user, label="Mine", now=timezone.now(), **facts)
    response = client.get(reverse("scheduling:feed", args=[secret]))
    assert response.status_code == 200
    found = vobject.readOne(response.content.decode())
    return {each.summary.value.rpartition(", ")[2]: each for each in found.vevent_list}


def test_a_building_holds_its_own_systems(client, world, system, orders):
    assert set(entries(client, world.owner, scope="building", building=system.building)) == {
        "NQ-101"
    }


def test_a_contractor_holds_what_it_was_given(client, world, orders):
    found = entries(client, world.owner, scope="contractor", contractor=world.contractor)
    assert set(found) == {"NQ-101", "NQ-102"}


def test_a_crew_holds_what_it_goes_to_and_nothing_else(client, world, orders, now):
    crew = make_crew(world.contractor)
    starts_at = now.replace(hour=8, minute=0, second=0, microsecond=0) + 2 * DAY
    book(orders["NQ-102"], world.technician, starts_at, now=now, crew=crew)
    found = entries(client, world.technician, scope="crew", crew=crew)
    assert set(found) == {"NQ-102"}
    assert found["NQ-102"].dtstart.value == starts_at
    assert "Pellmoor Fire Protection, Van 1. Booked." in found["NQ-102"].description.value


def test_what_is_declined_leaves_the_contractors_feed(client, world, orders, now):
    services.decline(task=orders["NQ-101"], by=world.technician, now=now, reason="Too far")
    found = entries(client, world.technician, scope="contractor", contractor=world.contractor)
    assert set(found) == {"NQ-102"}


def test_a_scope_shows_nothing_the_person_may_not_see(client, world, orders):
    _, secret = issue_token(
        user=world.stranger, label="Theirs", now=timezone.now(), scope="contractor",
        contractor=world.contractor,
    )  # fmt: skip
    assert b"VEVENT" not in client.get(reverse("scheduling:feed", args=[secret])).content


@pytest.mark.parametrize(
    ("alarm", "trigger"), [("hour", "-PT1H"), ("day", "-P1D"), ("week", "-P7D"), ("none", None)]
)
def test_the_alarm_is_the_feeds_own(client, world, orders, alarm, trigger):
    _, secret = issue_token(
        user=world.owner, label="Mine", now=timezone.now(), scope="person", alarm=alarm
    )
    body = client.get(reverse("scheduling:feed", args=[secret])).content.decode()
    assert ("BEGIN:VALARM" in body) == (trigger is not None)
    if trigger:
        assert f"TRIGGER:{trigger}\r\n" in body


def test_a_brief_feed_tells_neither_place_nor_reason(client, world, orders):
    found = entries(client, world.owner, scope="person", detail="brief")["NQ-101"]
    assert not hasattr(found, "location")
    assert "sprinkler opened" not in found.description.value
    assert found.url.value.endswith(orders["NQ-101"].get_absolute_url())


def test_two_feeds_of_one_follow_up_share_its_uid_and_revision(client, world, orders):
    full = entries(client, world.owner, scope="person")["NQ-101"]
    brief = entries(client, world.owner, scope="person", detail="brief", alarm="none")["NQ-101"]
    assert (full.uid.value, full.sequence.value) == (brief.uid.value, brief.sequence.value)


def test_the_form_offers_only_scopes_there_is_something_for(client, world, orders):
    client.force_login(world.owner)
    html = client.get(reverse("scheduling:feeds")).content.decode()
    assert "One building" in html and "One crew has" not in html
    data = {
        "label": "Shed",
        "scope": "building",
        "alarm": "week",
        "detail": "brief",
        "holds": "tasks",
    }
    refused = client.post(reverse("scheduling:feed-new"), data)
    assert "Choose the building" in refused.content.decode()
    data["building"] = orders["NQ-101"].system.building_id
    client.post(reverse("scheduling:feed-new"), data)
    token = FeedToken.objects.get()
    assert (token.scope, token.alarm, token.detail) == ("building", "week", "brief")
    assert token.holds == "Follow-ups in Shed 4, North Quay"
