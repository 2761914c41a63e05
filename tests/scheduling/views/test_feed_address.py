"""The feed over HTTP: who gets what, and when a reader is told that nothing changed."""

from datetime import timedelta

import pytest
import vobject
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from registry import services as registry
from registry.models import Membership, ServiceContract, Site
from scheduling.calendars.tokens import digest_of, issue_token, revoke_token
from scheduling.models import FeedToken, Task
from tests.factories import make_site, make_system
from tests.scheduling.ledger import DAY, head_break

pytestmark = pytest.mark.django_db
HOUR = timedelta(hours=1)


@pytest.fixture
def now():
    """The view reads the clock, so these ledgers stand in the present."""
    return timezone.now().replace(microsecond=0)


@pytest.fixture
def order(system, now):
    head_break(system, now - DAY, now=now - HOUR)
    return Task.objects.get()


def subscribe(user, scope="person", **narrowed):
    token, secret = issue_token(
        user=user, label="Work", scope=scope, now=timezone.now(), **narrowed
    )
    return token, reverse("scheduling:feed", args=[secret])


def fetch(address, **headers):
    """As a calendar program does: without signing in."""
    return Client().get(address, headers=headers)


def events(response):
    return vobject.readOne(response.content.decode()).contents.get("vevent", [])


def test_a_feed_is_read_without_signing_in(order, technician):
    _, address = subscribe(technician)
    response = fetch(address)
    assert response.status_code == 200
    assert response["Content-Type"] == "text/calendar; charset=utf-8"
    assert response["Cache-Control"] == "private, no-cache"
    assert response["Content-Disposition"] == 'inline; filename="riserbook-work.ics"'
    (event,) = events(response)
    assert event.uid.value == str(order.uuid)
    assert event.url.value.endswith(order.get_absolute_url())


def test_an_unknown_or_revoked_token_is_not_found(order, technician):
    token, address = subscribe(technician)
    revoke_token(token=token, now=timezone.now())
    assert fetch(address).status_code == 404
    assert fetch(reverse("scheduling:feed", args=["guess"])).status_code == 404


def test_the_feed_of_somebody_who_left_is_not_found(order, technician):
    _, address = subscribe(technician)
    technician.is_active = False
    technician.save()
    assert fetch(address).status_code == 404


def test_only_the_digest_of_the_secret_is_kept(technician):
    token, address = subscribe(technician)
    secret = address.removeprefix("/feed/").removesuffix(".ics")
    assert token.digest == digest_of(secret)
    assert secret not in str(FeedToken.objects.values().get())


def test_a_stranger_finds_nothing_of_ours(order, stranger):
    _, address = subscribe(stranger)
    assert events(fetch(address)) == []


def test_the_feed_follows_what_the_person_may_see_now(order, technician, now):
    _, address = subscribe(technician)
    assert len(events(fetch(address))) == 1
    ServiceContract.objects.update(ends_on=(now - 2 * DAY).date())
    assert events(fetch(address)) == []


def test_a_person_who_loses_the_membership_loses_the_feed(order, viewer):
    _, address = subscribe(viewer)
    Membership.objects.filter(user=viewer).delete()
    assert events(fetch(address)) == []


@pytest.mark.parametrize("scope", ["site", "system"])
def test_scope_narrows_the_feed(order, world, system, now, scope):
    site = make_site(world.owner_organisation, name="South Quay")
    head_break(make_system(site, world.owner), now - DAY, now=now)
    narrowed = {"site": {"site": system.site}, "system": {"system": system}}[scope]
    _, everything = subscribe(world.owner)
    _, narrow = subscribe(world.owner, scope, **narrowed)
    assert len(events(fetch(everything))) == 2
    assert [e.uid.value for e in events(fetch(narrow))] == [str(order.uuid)]


def test_a_scope_the_person_may_no_longer_see_is_empty(order, world, stranger):
    _, address = subscribe(stranger, "site", site=world.site)
    assert events(fetch(address)) == []


def test_nothing_changed_is_304_for_the_same_etag(order, technician):
    _, address = subscribe(technician)
    first = fetch(address)
    again = fetch(address, if_none_match=first["ETag"])
    assert (again.status_code, again.content) == (304, b"")
    assert again["ETag"] == first["ETag"]


def test_if_modified_since_alone_gets_the_whole_file(order, technician):
    _, address = subscribe(technician)
    first = fetch(address)
    assert fetch(address, if_modified_since=first["Last-Modified"]).status_code == 200


@pytest.mark.parametrize("field", ["name", "address"])
def test_a_change_of_place_is_never_answered_with_304(order, technician, field):
    _, address = subscribe(technician)
    first = fetch(address)
    Site.objects.update(**{field: "Slip Yard"})
    second = fetch(address, if_none_match=first["ETag"])
    assert second.status_code == 200
    (event,) = events(second)
    assert "Slip Yard" in event.location.value
    assert event.sequence.value == "1"
    assert event.uid.value == str(order.uuid)


def test_a_change_within_the_same_second_is_never_answered_with_304(order, technician, system):
    _, address = subscribe(technician)
    first = fetch(address)
    system.tag = "NQ-101A"
    system.save()
    second = fetch(address, if_none_match=first["ETag"])
    assert second.status_code == 200
    system.tag = "NQ-101B"
    system.save()
    third = fetch(address, if_none_match=second["ETag"])
    assert third.status_code == 200
    assert len({first["ETag"], second["ETag"], third["ETag"]}) == 3


def test_head_tells_the_same_without_the_file(order, technician):
    _, address = subscribe(technician)
    got, head = fetch(address), Client().head(address)
    assert (head.status_code, head.content) == (200, b"")
    assert head["ETag"] == got["ETag"]
    assert Client().post(address).status_code == 405


def test_a_withdrawn_follow_up_is_cancelled_for_thirty_days_and_then_gone(order, world, now):
    registry.withdraw(
        record=order.cause, reason="Wrong system", recorded_by=world.owner, now=now - HOUR
    )
    _, address = subscribe(world.technician)
    (event,) = events(fetch(address))
    assert (event.uid.value, event.status.value) == (str(order.uuid), "CANCELLED")
    assert event.sequence.value == "1"
    Task.objects.update(closed_at=now - 30 * DAY + HOUR)
    assert len(events(fetch(address))) == 1
    Task.objects.update(closed_at=now - 30 * DAY)
    assert events(fetch(address)) == []


def test_reading_a_feed_is_noted_at_most_every_few_minutes(order, technician):
    token, address = subscribe(technician)
    fetch(address)
    token.refresh_from_db()
    first = token.last_fetched_at
    assert first is not None
    fetch(address)
    token.refresh_from_db()
    assert token.last_fetched_at == first


def test_the_number_of_questions_does_not_grow_with_the_feed(
    world, now, django_assert_max_num_queries
):
    _, address = subscribe(world.technician)
    for number in range(6):
        one = make_system(world.site, world.owner, tag=f"NQ-20{number}")
        head_break(one, now - DAY, now=now - HOUR)
    with django_assert_max_num_queries(4):
        assert len(events(fetch(address))) == 6
