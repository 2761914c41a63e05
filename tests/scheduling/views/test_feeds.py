"""Making, listing and revoking feed addresses."""

import re

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from scheduling.calendars.tokens import issue_token
from scheduling.models import FeedToken
from tests.scheduling.orders_world import make_crew

pytestmark = pytest.mark.django_db
FEEDS, NEW = reverse("scheduling:feeds"), reverse("scheduling:feed-new")


def sign_in(client, person):
    client.force_login(person)
    return client


def make(client, **answers):
    answers = {"label": "Work", "scope": "person", "holds": ["tasks"], **answers}
    return client.post(NEW, answers)


def shown_address(response):
    return re.search(r"http://localhost:8000(/feed/[\w-]{40,}\.ics)", response.content.decode())


def test_a_new_feed_shows_its_address_once_and_the_address_works(client, technician):
    response = make(sign_in(client, technician))
    address = shown_address(response).group(1)
    assert "no-store" in response["Cache-Control"]
    assert Client().get(address).status_code == 200
    listed = client.get(FEEDS).content.decode()
    assert "Work" in listed
    assert address not in listed


def test_a_feed_for_one_site_asks_which(client, technician, site):
    response = make(sign_in(client, technician), scope="site")
    assert "Choose the site" in response.content.decode()
    assert 'value="Work"' in response.content.decode()
    assert not FeedToken.objects.exists()
    make(client, scope="site", site=site.pk)
    assert FeedToken.objects.get().site == site


def test_a_feed_for_everything_forgets_a_site_that_was_chosen_too(client, technician, site):
    make(sign_in(client, technician), scope="person", site=site.pk)
    assert FeedToken.objects.get().site is None


def test_a_feed_holds_what_was_ticked_as_far_ahead_as_was_asked(client, technician):
    make(sign_in(client, technician), holds=["recurring", "impairments"], horizon_days=90)
    token = FeedToken.objects.get()
    assert (token.with_tasks, token.with_recurring, token.with_impairments) == (False, True, True)
    assert token.horizon_days == 90
    assert token.holds == "Recurring work and impairments at every site you may see"
    assert "90 days ahead" in client.get(FEEDS).content.decode()


def test_a_feed_that_would_hold_nothing_is_refused_and_keeps_what_was_typed(client, technician):
    refused = make(sign_in(client, technician), holds=[]).content.decode()
    assert "Tick at least one" in refused and 'value="Work"' in refused
    assert not FeedToken.objects.exists()


def test_a_crew_is_given_follow_ups_alone(client, world, technician):
    crew = make_crew(world.contractor)
    refused = make(sign_in(client, technician), scope="crew", crew=crew.pk, holds=["recurring"])
    assert "A crew is given follow-ups alone" in refused.content.decode()


def test_a_feed_for_one_system_is_made_from_its_page(client, technician, system):
    sign_in(client, technician)
    offered = client.get(FEEDS, {"system": system.pk}).content.decode()
    assert "One system: NQ-101, North Quay" in offered
    assert "One system" not in client.get(FEEDS).content.decode()
    make(client, scope="system", system=system.pk)
    assert FeedToken.objects.get().system == system


def test_a_stranger_cannot_ask_for_our_site_or_system(client, stranger, site, system):
    sign_in(client, stranger)
    assert make(client, scope="site", site=site.pk).status_code == 200
    assert make(client, scope="system", system=system.pk).status_code == 404
    assert client.get(FEEDS, {"system": system.pk}).status_code == 404
    assert not FeedToken.objects.exists()


@pytest.mark.parametrize("tampered", ["nonsense", "-1", "9" * 30, "9" * 5000])
def test_an_address_that_names_no_system_offers_none(client, technician, tampered):
    response = sign_in(client, technician).get(FEEDS, {"system": tampered})
    assert response.status_code == 200
    assert "One system" not in response.content.decode()


def test_revoking_asks_first_and_then_stops_the_address(client, technician):
    sign_in(client, technician)
    address = shown_address(make(client)).group(1)
    token = FeedToken.objects.get()
    revoke = reverse("scheduling:feed-revoke", args=[token.pk])
    assert "Revoke “Work”?" in client.get(revoke).content.decode()
    assert Client().get(address).status_code == 200
    assert client.post(revoke).status_code == 302
    assert Client().get(address).status_code == 404
    assert client.post(revoke).status_code == 404


def test_nobody_revokes_the_feed_of_somebody_else(client, technician, owner):
    token, _ = issue_token(user=technician, label="Work", scope="person", now=timezone.now())
    sign_in(client, owner)
    assert client.post(reverse("scheduling:feed-revoke", args=[token.pk])).status_code == 404
    token.refresh_from_db()
    assert token.revoked_at is None


def test_making_a_feed_needs_a_post_and_a_sign_in(client, technician):
    assert client.post(NEW, {"label": "Work", "scope": "person"}).status_code == 302
    assert not FeedToken.objects.exists()
    assert sign_in(client, technician).get(NEW).status_code == 405
