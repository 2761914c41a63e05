"""Sign-in at a provider of OpenID Connect, which runs as a process of its own."""

import json
import subprocess
import sys
from pathlib import Path
from urllib.error import HTTPError
from urllib.parse import parse_qs, urlsplit
from urllib.request import HTTPRedirectHandler, Request, build_opener

import pytest
from allauth.account.models import EmailAddress
from allauth.socialaccount.models import SocialAccount, SocialToken
from django.core.exceptions import ImproperlyConfigured
from django.urls import reverse

from registry.models import SignIn, User
from registry.signing_in.providers import provider_settings
from tests.factories import make_user

GO = reverse("openid_connect_login", args=["oidc"])
HERE = Path(__file__).parent


class Provider:
    def __init__(self):
        self.process = subprocess.Popen(
            [sys.executable, HERE / "oidc_provider.py"], stdout=subprocess.PIPE, text=True
        )
        self.url = f"http://127.0.0.1:{self.process.stdout.readline().strip()}"

    def next(self, email="", verified=True, sub="sub-1", **wrong):
        who = {"email": email, "verified": verified, "sub": sub, "name": "Somebody"} | wrong
        build_opener().open(Request(f"{self.url}/next", json.dumps(who).encode())).close()

    def stop(self):
        self.process.kill()
        self.process.wait()
        self.process.stdout.close()


@pytest.fixture(scope="module")
def running():
    provider = Provider()
    yield provider
    provider.stop()


@pytest.fixture
def provider(running, settings):
    settings.SOCIALACCOUNT_PROVIDERS = provider_settings(
        {
            "OIDC_SERVER_URL": running.url,
            "OIDC_CLIENT_ID": "riserbook",
            "OIDC_CLIENT_SECRET": "a secret of the tests",
            "OIDC_NAME": "Harbour sign-in",
        }
    )
    running.next()  # or it goes on saying what the test before had it say
    return running


class _Stays(HTTPRedirectHandler):
    def redirect_request(self, *args):
        return None


def visit(client, **how):
    """The way of a browser: to the provider, and back with what it says."""
    there = client.post(GO, how)
    assert there.status_code == 302, there.content
    return client.get(_back(there["Location"]), follow=True)


def _back(address: str) -> str:
    with pytest.raises(HTTPError) as redirected:
        build_opener(_Stays).open(address)
    redirected.value.close()
    back = urlsplit(redirected.value.headers["Location"])
    return f"{back.path}?{back.query}"


@pytest.fixture
def person(db):
    return make_user(name="Ines Orvald")


def who_is_in(client) -> User | None:
    key = client.session.get("_auth_user_id")
    return User.objects.get(pk=key) if key else None


def test_the_page_offers_it_and_says_what_it_does_not_do(client, provider, db):
    page = client.get(reverse("account_login")).text
    assert "Sign in with Harbour sign-in" in page
    assert "it opens no account for anybody else" in " ".join(page.split())


def test_without_a_provider_nothing_is_offered(client, db):
    assert "openid" not in client.get(reverse("account_login")).text.lower()
    assert client.post(GO).status_code == 404


def test_whom_the_book_knows_by_a_checked_address_comes_in_as_themselves(client, provider, person):
    provider.next(person.email.upper())
    answer = visit(client, next=reverse("registry:account"))
    assert answer.redirect_chain[-1][0] == reverse("registry:account")
    assert who_is_in(client) == person
    row = SignIn.objects.get(person=person, what="in")
    assert row.how == "oidc"
    assert EmailAddress.objects.get(user=person).verified
    person.refresh_from_db()
    assert person.check_password("correct-horse")
    assert not SocialToken.objects.exists()


def test_they_are_known_afterwards_by_the_provider_even_under_another_address(
    client, provider, person
):
    provider.next(person.email)
    visit(client)
    client.logout()
    provider.next("married@averhythe.example", verified=False)
    visit(client)
    assert who_is_in(client) == person
    assert SocialAccount.objects.get().uid == "sub-1"


@pytest.mark.parametrize("verified", [True, False])
def test_whom_nobody_knows_is_nobody_and_is_told_so(client, provider, person, verified):
    provider.next("stranger@elsewhere.example", verified)
    answer = visit(client)
    assert who_is_in(client) is None
    assert "you are nobody here yet" in " ".join(answer.text.split())
    assert User.objects.count() == 1
    assert not SocialAccount.objects.exists()


def test_an_address_that_nobody_has_checked_lets_nobody_in(client, provider, person):
    provider.next(person.email, verified=False, sub="another")
    answer = visit(client)
    assert who_is_in(client) is None
    assert "you are nobody here yet" in " ".join(answer.text.split())


def test_a_closed_account_stays_closed(client, provider, person):
    provider.next(person.email)
    visit(client)
    client.logout()
    User.objects.update(is_active=False)
    visit(client)
    assert who_is_in(client) is None


@pytest.mark.parametrize(
    "wrong",
    [
        {"forged": True},
        {"unsigned": True},
        {"aud": "another client"},
        {"iss": "https://elsewhere.example"},
        {"lasts": -60},
        {"userinfo_sub": "somebody else"},
        {"no_token": True},
        {"nonce": "of another sign-in"},
        {"nonce": ""},
        {"no_key_named": True},
        {"refuses": True},
    ],
    ids=lambda wrong: next(iter(wrong)),
)
def test_what_cannot_be_checked_lets_nobody_in(client, provider, person, wrong):
    provider.next(person.email, **wrong)
    answer = visit(client)
    assert who_is_in(client) is None
    said = ("You turned back",) if "refuses" in wrong else ("Not signed in",)
    assert any(words in answer.text for words in said)


def test_an_answer_that_was_not_asked_for_is_refused(client, provider, person):
    """Neither one's own answer twice, nor somebody else's (RFC 9700 4.7)."""
    provider.next(person.email)
    there = client.post(GO)
    back = _back(there["Location"])
    stranger = type(client)()
    assert who_is_in(stranger) is None
    assert "Not signed in" in stranger.get(back).text
    assert who_is_in(stranger) is None
    client.get(back)
    assert who_is_in(client) == person
    client.post(reverse("account_logout"))
    client.get(back)
    assert who_is_in(client) is None


def test_a_document_that_names_another_issuer_leads_nowhere(client, provider, person):
    """Nor does one that changes its mind between the way there and the way back."""
    elsewhere = "https://elsewhere.example"
    provider.next(person.email, says_it_is=elsewhere, iss=elsewhere)
    refused = client.post(GO)
    assert refused.status_code == 401
    assert "Not signed in" in refused.text
    provider.next(person.email)
    back = _back(client.post(GO)["Location"])
    provider.next(person.email, says_it_is=elsewhere, iss=elsewhere)
    assert "Not signed in" in client.get(back).text
    assert who_is_in(client) is None


def test_a_provider_that_does_not_answer_is_no_error_of_the_server(client, settings, db):
    settings.SOCIALACCOUNT_PROVIDERS = provider_settings(
        {
            "OIDC_SERVER_URL": "http://127.0.0.1:9",
            "OIDC_CLIENT_ID": "riserbook",
            "OIDC_CLIENT_SECRET": "a secret of the tests",
        }
    )
    assert "Not signed in" in client.post(GO).text


def test_the_way_there_bears_a_state_and_a_challenge(client, provider, db):
    asked = parse_qs(urlsplit(client.post(GO)["Location"]).query)
    assert asked["code_challenge_method"] == ["S256"]
    assert len(asked["state"][0]) >= 16
    assert asked["response_type"] == ["code"]
    assert len(asked["nonce"][0]) >= 43
    again = parse_qs(urlsplit(client.post(GO)["Location"]).query)
    assert again["nonce"] != asked["nonce"]
    assert asked["redirect_uri"] == [
        "http://testserver" + reverse("openid_connect_callback", args=["oidc"])
    ]


def test_who_has_no_password_proves_who_they_are_by_signing_in_there_again(
    client, provider, person, settings
):
    person.set_unusable_password()
    person.save()
    provider.next(person.email)
    visit(client)
    settings.PROVE_AGAIN_S = 0
    secret = reverse("mfa_activate_totp")
    asked = client.get(secret, follow=True)
    assert asked.redirect_chain[0][0].startswith(reverse("registry:prove-outside"))
    assert "Harbour sign-in says who you are" in " ".join(asked.text.split())
    settings.PROVE_AGAIN_S = 60
    answer = visit(client, next=secret)
    assert answer.redirect_chain[-1][0] == secret
    assert answer.status_code == 200


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"OIDC_SERVER_URL": "https://id.averhythe.example"}, "not OIDC_CLIENT_ID"),
        (
            {"OIDC_SERVER_URL": "http://id.averhythe.example", "OIDC_CLIENT_ID": "a",
             "OIDC_CLIENT_SECRET": "b"},
            "must begin with https",
        ),
    ],
)  # fmt: skip
def test_settings_that_cannot_work_are_refused_by_name(values, words):
    with pytest.raises(ImproperlyConfigured, match=words):
        provider_settings(values)
