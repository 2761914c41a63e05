"""From an invitation to a person who is in, in the browser; each page fits and breaks no rule."""

import os

import pytest
from django.urls import reverse

from registry.models import Invitation, User
from registry.services.access.inviting import link_of
from tests.browser.axe import violations

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
PICTURES = os.environ.get("PICTURES", "")


def look(page, name):
    for scheme, width in (("dark", 390), ("light", 1280)):
        page.emulate_media(color_scheme=scheme)
        page.set_viewport_size({"width": width, "height": 900})
        assert page.evaluate("document.documentElement.scrollWidth") <= width, name
        assert violations(page) == {}, (name, scheme)
        if PICTURES:
            page.screenshot(path=f"{PICTURES}/{name}-{width}.png", full_page=True)


def test_a_contractor_is_invited_and_comes_in(open_page, world):
    owner = [world.owner_organisation.pk]
    page = open_page(world.owner, size=(390, 844))
    page.goto(reverse("registry:first-steps"))
    look(page, "first-steps")
    page.goto(reverse("registry:people-invite", args=[*owner, "contractor"]))
    look(page, "invite")
    page.get_by_label("E-mail address").fill("bo@skerrow.example")
    page.get_by_label("North Quay").check()
    page.get_by_role("button", name="Invite").click()
    page.get_by_role("heading", name="bo@skerrow.example is invited").wait_for()
    look(page, "invited")
    page.goto(reverse("registry:people", args=owner))
    look(page, "people")
    page.goto(reverse("registry:member", args=[*owner, world.viewer.uuid]))
    look(page, "member")
    page.goto(reverse("registry:access-log", args=owner))
    look(page, "log")
    link = link_of(Invitation.objects.get())
    new = open_page(size=(390, 844))
    new.goto(link[link.index("/invited/") :])
    look(new, "invitation")
    new.get_by_label("Your name").fill("Bo Boss")
    new.get_by_label("Password").fill("nine-quiet-herons")
    new.get_by_label("Name of your organisation").fill("Skerrow Sprinklers")
    new.get_by_role("button", name="Accept").click()
    new.get_by_text("You are in.").wait_for()
    person = User.objects.get(email="bo@skerrow.example")
    assert person.memberships.get().organisation.service_contracts.get().site == world.site
    new.goto(link[link.index("/invited/") :])
    new.get_by_role("heading", name="This invitation opens nothing").wait_for()
    look(new, "closed")
    open_page.complaints.clear()  # Chromium complains of the 404 itself
