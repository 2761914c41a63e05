"""What each answer tells a browser, and posts that come from somewhere else."""

import json
import os
import subprocess
import sys
from http.cookies import SimpleCookie

import pytest
from django.conf import settings
from django.test import Client
from django.urls import reverse

from tests.test_access import ADDRESSES
from tests.world_objects import make_objects

pytestmark = pytest.mark.django_db
FROM_ELSEWHERE = {"scheduling:unsubscribe"}  # one click in a mail program, by a signed address


@pytest.mark.parametrize("name", ["reports:portfolio", "registry:account", "account_login"])
def test_each_page_says_what_a_browser_may_do_with_it(client, world, name):
    if name != "account_login":
        client.force_login(world.owner)
    page = client.get(reverse(name))
    policy = page["Content-Security-Policy"]
    for words in ("default-src 'self'", "script-src 'self'", "object-src 'none'",
                  "base-uri 'none'", "frame-ancestors 'none'", "form-action 'self'"):  # fmt: skip
        assert words in policy
    assert "unsafe" not in policy and "http:" not in policy
    assert page["X-Content-Type-Options"] == "nosniff"
    assert page["Referrer-Policy"] == "same-origin"
    assert page["Cross-Origin-Opener-Policy"] == "same-origin"
    assert page["Content-Type"] == "text/html; charset=utf-8"
    assert "Access-Control-Allow-Origin" not in page


def test_cookies_are_kept_from_scripts_and_from_other_sites():
    assert settings.SESSION_COOKIE_HTTPONLY
    assert settings.SESSION_COOKIE_SAMESITE == settings.CSRF_COOKIE_SAMESITE == "Lax"


ASKED = """
import json, os, django
from django.conf import settings
names = ("SESSION_COOKIE_NAME", "CSRF_COOKIE_NAME", "SESSION_COOKIE_SECURE",
         "CSRF_COOKIE_SECURE", "SECURE_HSTS_SECONDS", "SECURE_HSTS_INCLUDE_SUBDOMAINS",
         "SECURE_SSL_REDIRECT", "DEBUG", "SESSION_COOKIE_PATH", "SESSION_COOKIE_DOMAIN")
print(json.dumps({name: getattr(settings, name) for name in names}))
"""


def settings_at(url: str, tmp_path) -> dict:
    """As a process begins there; settings are read once."""
    told = {"PUBLIC_URL": url, "RISERBOOK_VAR_DIR": str(tmp_path), "SECRET_KEY": "k" * 60,
            "DJANGO_SETTINGS_MODULE": "config.settings", "STATIC_MANIFEST": "0"}  # fmt: skip
    done = subprocess.run(
        [sys.executable, "-c", ASKED], env=os.environ | told, cwd=settings.BASE_DIR, check=True,
        capture_output=True, text=True,
    )  # fmt: skip
    return json.loads(done.stdout)


def test_over_https_cookies_are_of_this_host_alone_and_http_is_left(tmp_path):
    there = settings_at("https://book.averhythe.example", tmp_path)
    for name in ("SESSION_COOKIE_NAME", "CSRF_COOKIE_NAME"):
        assert there[name].startswith("__Host-")
    assert there["SESSION_COOKIE_SECURE"] and there["CSRF_COOKIE_SECURE"]
    assert (there["SESSION_COOKIE_PATH"], there["SESSION_COOKIE_DOMAIN"]) == ("/", None)
    assert there["SECURE_HSTS_SECONDS"] >= 31_536_000 and there["SECURE_HSTS_INCLUDE_SUBDOMAINS"]
    assert there["SECURE_SSL_REDIRECT"] and not there["DEBUG"]
    here = settings_at("http://localhost:8000", tmp_path)
    assert not here["SESSION_COOKIE_NAME"].startswith("__Host-")


def test_no_post_is_taken_without_its_token(world):
    """Each address that takes one, from the person who may do it."""
    objects = make_objects(world)
    signed_in = Client()
    signed_in.force_login(world.owner)
    client = Client(enforce_csrf_checks=True)
    client.cookies = SimpleCookie(signed_in.cookies)
    posts = [name for name, rights in ADDRESSES.items() if "post" in rights]
    taken = {
        name
        for name in posts
        if client.post(reverse(name, kwargs=objects.get(name, {}))).status_code != 403
    }
    assert len(posts) > 60
    assert taken == FROM_ELSEWHERE
