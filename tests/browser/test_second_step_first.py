"""Who is led to a second step at sign-in: the page, and what waits on the phone meanwhile."""

import re

import pytest
from django.contrib.sessions.backends.db import SessionStore
from django.urls import reverse

from registry.models import Organisation
from tests.browser.axe import violations
from tests.browser.conftest import PHONE, _session_cookie
from tests.browser.test_outbox import at_form, keep_one, pressures  # noqa: F401
from tests.browser.test_run_offline import HAS_KEY, heading, kept, until
from tests.registry.second_step_world import give_app

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def signs_in_anew(live_server, technician):
    """As the session of who signs in once the contractor asks for a second step."""

    def sign_in(page):
        Organisation.objects.filter(people=technician).update(demands_second_step=True)
        cookie = _session_cookie(technician, live_server.url)
        session = SessionStore(cookie["value"])
        session["owes_second_step"] = "/"
        session.save()
        page.context.clear_cookies(name="sessionid")
        page.context.add_cookies([cookie])

    return sign_in


def refused_only(complaints):
    assert complaints and all("403" in one for one in complaints), complaints
    complaints.clear()


@pytest.mark.parametrize("has_key", [True, False], ids=["key on the phone", "key gone"])
def test_what_waits_says_why_and_is_sent_afterwards(
    at_form, open_page, system, technician, signs_in_anew, has_key  # noqa: F811
):  # fmt: skip
    keep_one(at_form)
    if not has_key:
        at_form.evaluate("() => riserbook.outbox.leave(true)")
    signs_in_anew(at_form)
    at_form.context.set_offline(False)
    at_form.goto(system.get_absolute_url())
    heading(at_form, "Second step and passkeys")
    box = at_form.locator("#outbox")
    box.get_by_text("asks for a second step at sign-in").wait_for()
    assert box.locator("[data-part=count]").inner_text().count("1")
    assert at_form.evaluate(HAS_KEY) is has_key
    assert violations(at_form) == {}
    assert at_form.evaluate("document.documentElement.scrollWidth") <= PHONE[0]
    assert kept(at_form) == 1 and pressures(system) == []
    refused_only(open_page.complaints)
    give_app(technician)
    at_form.goto(reverse("scheduling:work"))
    until(at_form, lambda: kept(at_form) == 0)
    assert pressures(system) == [61]


def test_the_menu_offers_nothing_that_does_not_open(open_page, technician, signs_in_anew):
    page = open_page(technician, size=PHONE)
    signs_in_anew(page)
    page.goto("/")
    heading(page, "Second step and passkeys")
    page.get_by_text("Nothing else of the book opens before.").wait_for()
    page.get_by_role("button", name=re.compile("Menu")).click()
    assert page.locator("#menu").get_by_role("link").count() == 0
    assert page.locator("#menu").get_by_role("button", name="Sign out").is_visible()
    open_page.complaints.clear()
