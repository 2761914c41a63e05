"""Chromium for the tests: nothing may be fetched from elsewhere, nothing may break the CSP."""

import functools
import os
import shutil
import threading
import time
from collections.abc import Callable, Iterator

import pytest
from django.conf import settings
from django.contrib.sessions.backends.db import SessionStore
from django.db import connection

# Playwright keeps an event loop in this thread, and Django would refuse its own database calls.
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "1"
# fmt: off
FEATURES_OFF = [
    # The address bar no test can see: two pages of its own in every window, half of all the work.
    "WebUIOmniboxPopup", "WebUIOmniboxAimPopup",
    # What Playwright turns off and pages could come to notice; of two such lists the last counts.
    "AimEnabled", "AvoidCorsURLLoaderRestartOnRedirect", "AvoidUnnecessaryBeforeUnloadCheckSync",
    "DestroyProfileOnBrowserClose", "HttpsFirstBalancedModeAutoEnable", "HttpsUpgrades",
    "LensOverlay", "MediaRouter", "NetworkTimeServiceQuerying", "OptimizationHints",
    "PaintHolding", "PreconnectToSearch", "ThirdPartyStoragePartitioning",
]
ARGUMENTS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
    f"--disable-features={','.join(FEATURES_OFF)}",
]
# The shell is the same browser without windows, and does half the work.
NAMES = ("chromium-headless-shell", "chromium", "chromium-browser")
# fmt: on
PHONE, DESK = (390, 844), (1280, 900)
EXPECTED = ("net::ERR_", "status of 409", "status of 422", "when fetching the script")


def chromium_path() -> str | None:
    return os.environ.get("CHROMIUM") or next(filter(None, map(shutil.which, NAMES)), None)


@pytest.fixture(scope="session")
def chromium() -> Iterator:
    path = chromium_path()
    if path is None:
        message = "Chromium is not installed; set CHROMIUM to its path or install the package"
        if os.environ.get("CI"):
            pytest.fail(message)
        pytest.skip(message)
    from playwright.sync_api import Locator, sync_playwright

    # While Playwright's loop runs, Django keeps another connection for this thread. Neither may be
    # left open where the other one goes on: PostgreSQL drops no database that somebody uses.
    connection.close()
    with pytest.MonkeyPatch.context() as patch, sync_playwright() as playwright:
        patch.setattr(Locator, "click", _settled(Locator.click))
        browser = playwright.chromium.launch(executable_path=path, args=ARGUMENTS)
        yield browser
        browser.close()
        connection.close()


def _settled(click: Callable) -> Callable:
    """A click that is over when the page it leads to can be read: what counts, lists or compares
    does not wait by itself, and would read a page that has only begun."""

    @functools.wraps(click)
    def click_and_wait(locator, **options):
        click(locator, **options)
        if not locator.page.is_closed():
            locator.page.wait_for_load_state("domcontentloaded")

    return click_and_wait


@pytest.fixture
def open_page(chromium, live_server) -> Iterator[Callable]:
    """Open a page as somebody; at the end, no foreign request and no complaint in the console."""
    contexts, complaints, foreign = [], [], []

    def open_as(user=None, *, size=DESK, scheme="light"):
        context = chromium.new_context(
            base_url=live_server.url,
            viewport={"width": size[0], "height": size[1]},
            color_scheme=scheme,
            has_touch=size == PHONE,
            reduced_motion="reduce",
        )
        contexts.append(context)
        if user is not None:
            context.add_cookies([_session_cookie(user, live_server.url)])
        page = context.new_page()
        page.set_default_timeout(
            30_000
        )  # how long a slow machine may take; a quick one never waits
        page.on("console", lambda message: _note(complaints, message))
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.on("request", lambda request: _note_foreign(foreign, request.url, live_server.url))
        return page

    open_as.complaints = complaints
    yield open_as
    for context in contexts:
        context.close()
    _wait_for_answers()
    assert foreign == []
    assert complaints == []


def _wait_for_answers() -> None:
    """Until the server has let go of every line: one still answering would meet the emptying of
    the database, and each of them may lose."""
    deadline = time.monotonic() + 30
    while any("process_request_thread" in thread.name for thread in threading.enumerate()):
        assert time.monotonic() < deadline, "the server still answers a page that was closed"
        time.sleep(0.01)


def _note(complaints: list[str], message) -> None:
    # A lost connection, or a question from the book, is what some tests bring about on purpose.
    is_expected = any(words in message.text for words in EXPECTED)
    if message.type in ("error", "warning") and not is_expected:
        complaints.append(f"{message.type}: {message.text}")


def _note_foreign(foreign: list[str], url: str, own: str) -> None:
    named = own.replace("127.0.0.1", "localhost")  # the same server
    if not url.startswith((own, named, "data:", "blob:", "about:")):
        foreign.append(url)


def _session_cookie(user, url: str) -> dict[str, str]:
    session = SessionStore()
    session["_auth_user_id"] = str(user.pk)
    session["_auth_user_backend"] = settings.AUTHENTICATION_BACKENDS[0]
    session["_auth_user_hash"] = user.get_session_auth_hash()
    session["account_authentication_methods"] = [{"method": "password", "at": time.time()}]
    session["account_authentication_methods_user"] = str(user.pk)
    session.save()
    return {"name": settings.SESSION_COOKIE_NAME, "value": session.session_key, "url": url}
