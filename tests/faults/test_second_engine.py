"""The phone's queue in an engine that is not Chromium's: Debian's WebKit, near to that of iOS.

Only where it is asked for, with `WEBKIT=1`: it has not run often enough to hold up others.
"""

import os

import pytest

from tests.faults.test_phone import assert_as_begun, deed, server  # noqa: F401
from tests.faults.webkit import webkit

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(not os.environ.get("WEBKIT"), reason="runs where WEBKIT=1 is set"),
]
COUNT = "riserbook.outbox.all().then((all) => all.length)"
HAS_KEY = "riserbook.outbox.ready().then(() => true)"
IS_LAID = (
    "caches.open('riserbook-pages').then((shelf) => shelf.match(location.pathname))"
    ".then((page) => Boolean(page && navigator.serviceWorker.controller))"
)


def test_webkit_keeps_an_entry_over_a_reload_without_a_book_and_sends_it(book, server, tmp_path):  # noqa: F811
    made = deed(book, "begin")
    home = f"http://127.0.0.1:{server.port}"
    (tmp_path / "webkit").mkdir()
    with webkit(tmp_path / "webkit") as page:
        page.open(f"{home}/health/")
        page.sign_in_as(made["session"])
        page.open(f"{home}{made['address']}")
        page.until("the run", lambda: "is the pressure reached" in page.heading())
        assert page.wait_for(HAS_KEY) is True
        page.until("the page lies ready", lambda: page.wait_for(IS_LAID) is True)
        server.kill()
        page.click("#step button.wide")
        page.until("the reading", lambda: "what does the vent read" in page.heading())
        assert page.wait_for(COUNT) == 1
        page.reload()
        page.until("the reading again", lambda: "what does the vent read" in page.heading())
        assert page.wait_for(COUNT) == 1
        shown = page.run("return document.body.innerText")
        assert "not yet in the book" in shown
        page.type("#step [name=n2_percent]", "92.9")
        page.click("#step button.wide")
        page.until("the purge", lambda: "purged to zero" in page.heading())
        assert page.wait_for(COUNT) == 2
        server.start()
        page.run("window.dispatchEvent(new Event('online'))")
        page.until("all is sent", lambda: page.wait_for(COUNT) == 0)
        page.until("the book's own page", lambda: "purged to zero" in page.heading())
    assert_as_begun(book, made["run"], 4)
