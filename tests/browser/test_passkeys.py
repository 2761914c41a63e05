"""A passkey made and used in Chromium, by a virtual device that has a finger on it."""

import pytest
from django.urls import reverse

from registry.models import SignIn
from tests.browser.axe import violations
from tests.browser.conftest import PHONE
from tests.factories import make_user

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
RIGHT = "correct-horse"


@pytest.fixture
def at_localhost(live_server, settings):
    """A name, as a number is nobody's home for a passkey."""
    settings.ALLOWED_HOSTS = ["localhost"]
    return live_server.url.replace("127.0.0.1", "localhost")


def device(page):
    line = page.context.new_cdp_session(page)
    line.send("WebAuthn.enable")
    options = {
        "protocol": "ctap2", "transport": "internal", "hasResidentKey": True,
        "hasUserVerification": True, "isUserVerified": True, "automaticPresenceSimulation": True,
    }  # fmt: skip
    answer = line.send("WebAuthn.addVirtualAuthenticator", {"options": options})
    return line, answer["authenticatorId"]


def sign_in_by_password(page, person):
    page.get_by_label("E-mail address").fill(person.email)
    page.get_by_label("Password").fill(RIGHT)
    page.get_by_role("button", name="Sign in", exact=True).click()
    page.wait_for_url(lambda url: "/sign-in/" not in url)


@pytest.fixture
def page(open_page, at_localhost):
    page = open_page(size=PHONE)
    page.goto(f"{at_localhost}{reverse('account_login')}")
    return page


def test_a_passkey_is_made_and_signs_in_alone(page, at_localhost):
    person = make_user()
    device(page)
    sign_in_by_password(page, person)
    page.goto(f"{at_localhost}{reverse('mfa_index')}")
    page.get_by_role("link", name="Add a passkey").click()
    assert violations(page) == {}
    page.get_by_label("Name").fill("Work phone")
    page.get_by_role("button", name="Add a passkey").click()
    page.get_by_role("heading", name="Recovery codes").wait_for()
    assert violations(page) == {}
    assert page.locator(".secret-codes li").count() == 10
    page.goto(f"{at_localhost}{reverse('mfa_list_webauthn')}")
    page.get_by_text("Work phone").first.wait_for()
    page.goto(f"{at_localhost}{reverse('account_logout')}")
    page.locator("main").get_by_role("button", name="Sign out").click()
    page.get_by_role("button", name="Sign in with a passkey").click()
    page.wait_for_url(lambda url: "/sign-in/" not in url)
    page.goto(f"{at_localhost}{reverse('registry:account')}")
    page.get_by_text(person.email).first.wait_for()
    row = SignIn.objects.filter(person=person, what="in").first()
    assert row.how == "passkey"


def test_a_passkey_is_the_second_step_and_says_who_one_is(page, at_localhost, settings):
    person = make_user()
    device(page)
    sign_in_by_password(page, person)
    page.goto(f"{at_localhost}{reverse('mfa_add_webauthn')}")
    page.get_by_label("It signs in alone").uncheck()
    page.get_by_role("button", name="Add a passkey").click()
    page.get_by_role("heading", name="Recovery codes").wait_for()
    page.context.clear_cookies()
    page.goto(f"{at_localhost}{reverse('account_login')}")
    page.get_by_label("E-mail address").fill(person.email)
    page.get_by_label("Password").fill(RIGHT)
    page.get_by_role("button", name="Sign in", exact=True).click()
    page.get_by_role("heading", name="The second step").wait_for()
    assert violations(page) == {}
    page.get_by_role("button", name="Use a passkey").click()
    page.wait_for_url(lambda url: "/sign-in/" not in url)
    settings.PROVE_AGAIN_S = 0
    page.goto(f"{at_localhost}{reverse('mfa_activate_totp')}")
    page.get_by_role("heading", name="Is it you?").wait_for()
    page.get_by_role("link", name="By passkey").click()
    page.get_by_role("button", name="Use the passkey").wait_for()
    assert violations(page) == {}
    settings.PROVE_AGAIN_S = 900
    page.get_by_role("button", name="Use the passkey").click()
    page.get_by_role("heading", name="Add an authenticator app").wait_for()


def test_a_passkey_that_does_not_come_is_said_in_words(page):
    line, key = device(page)
    line.send("WebAuthn.setUserVerified", {"authenticatorId": key, "isUserVerified": False})
    page.get_by_role("button", name="Sign in with a passkey").click()
    page.get_by_text("Nothing came from a passkey.").wait_for()


def test_what_is_typed_can_be_looked_at(page):
    field = page.get_by_label("Password")
    field.fill("four quiet herons")
    button = page.get_by_role("button", name="Show what is typed")
    button.click()
    assert field.get_attribute("type") == "text"
    assert button.get_attribute("aria-pressed") == "true"
    button.click()
    assert field.get_attribute("type") == "password"
