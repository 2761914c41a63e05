"""A phone at the riser whose book goes away: the server is killed at each step of a run, and the
line is cut at every point of it. Nothing is lost, nothing doubled, nothing out of order.

`CUTS` says how many cuts are made: `CUTS=1000 make faults` for the long run.
"""

import json
import os
import random
import re
import subprocess
import sys

import pytest
from playwright.sync_api import Error

from tests.browser.conftest import PHONE, chromium  # noqa: F401
from tests.faults.conftest import PATIENCE_S, ROOT, free_port, kill, wait_for
from tests.faults.cutting import CUTS as WAYS
from tests.faults.cutting import Line

pytestmark = pytest.mark.browser
CUTS = int(os.environ.get("CUTS", "30"))
SEED = int(os.environ.get("SEED", "16"))
COUNT = """() => new Promise((resolve) => {
  const asked = indexedDB.open("riserbook");
  asked.onsuccess = () => {
    const all = asked.result.transaction("entries").objectStore("entries").getAll();
    all.onsuccess = () => resolve(all.result.filter((row) => !row.done).length);
  };
})"""
# what a technician does, in order: the words of the button, a number to type before, the next title
RUN = [
    ("Pressure reached", None, "Fill 1: what does the vent read"),
    ("Log the reading", "92.9", "Fill 1: purged to zero"),
    ("the gauge reads zero", None, "Fill 2: is the pressure reached"),
    ("Pressure reached", None, "Fill 2: what does the vent read"),
    ("Log the reading", "97.6", "Fill 2: purged to zero"),
    ("the gauge reads zero", None, "Fill 3: is the pressure reached"),
    ("Pressure reached", None, "Fill 3: what does the vent read"),
    ("Log the reading", "99.2", "Nitrogen vented to zero"),
]
WRITTEN = [
    "started", "checked", "filled", "read", "purged", "filled", "read", "purged", "filled",
    "read", "accepted",
]  # fmt: skip


class Server:
    """A web server of a book on one port, killed and started again."""

    def __init__(self, book):
        self.book, self.port = book, free_port()
        self.start()

    def start(self) -> None:
        config = str(ROOT / "config" / "gunicorn.conf.py")
        self.process = self.book.start(
            *("gunicorn", "config.wsgi", "--config", config),
            *("--bind", f"127.0.0.1:{self.port}", "--workers", "1"),
        )
        wait_for("the web server", self.answers, self.process)

    def answers(self) -> bool:
        done = subprocess.run(
            ["curl", "-sf", "-o", os.devnull, f"http://127.0.0.1:{self.port}/health/"]
        )
        return done.returncode == 0

    def kill(self) -> None:
        kill(self.process)


def deed(book, *words: str) -> dict:
    done = subprocess.run(
        [sys.executable, "-m", "tests.faults.phone_deeds", *words],
        cwd=ROOT, env=book.env, text=True, capture_output=True, timeout=PATIENCE_S,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout.splitlines()[-1])


@pytest.fixture
def server(book):
    book.env["ALLOWED_HOSTS"] = "127.0.0.1,localhost"
    started = Server(book)
    yield started
    started.kill()


class Phone:
    """A browser that goes through a run and does not mind whether the book is there."""

    def __init__(self, browser, port: int, session: str):
        self.context = browser.new_context(
            base_url=f"http://127.0.0.1:{port}",
            viewport={"width": PHONE[0], "height": PHONE[1]}, reduced_motion="reduce",
        )  # fmt: skip
        cookie = {"name": "sessionid", "value": session, "url": f"http://127.0.0.1:{port}"}
        self.context.add_cookies([cookie])
        self.page = self.context.new_page()
        self.page.set_default_timeout(60_000)

    def open(self, address: str) -> None:
        self.page.goto(address)
        self.heading("Fill 1: is the pressure reached")
        self.until("the page lies ready", lambda: self.page.evaluate(READY, address))

    def heading(self, words: str) -> None:
        try:
            self.page.get_by_role("heading", level=1, name=re.compile(words)).wait_for()
        except Error as error:
            shown = self.page.locator("main h1").all_inner_texts()
            waiting = self.page.evaluate(WAITING)
            raise AssertionError(f"no “{words}”; {waiting} kept; {shown}") from error

    def do(self, button: str, number: str | None, title: str) -> None:
        if number:
            self.page.locator("#step [name=n2_percent]").fill(number)
        self.page.get_by_role("button", name=re.compile(button)).click()
        self.heading(title)

    def kept(self) -> int:
        return self.page.evaluate(COUNT)

    def send(self) -> None:
        self.page.evaluate("() => window.dispatchEvent(new Event('online'))")

    def sent(self) -> None:
        self.until("all is sent", self._is_sent)

    def _is_sent(self) -> bool:
        self.send()
        return self.kept() == 0

    def until(self, what: str, condition) -> None:
        for _ in range(200):
            if condition():
                return
            self.page.wait_for_timeout(100)
        raise AssertionError(f"{what}: it did not come; {self.page.evaluate(WAITING)}")


WAITING = "async () => (await riserbook.outbox.all()).map((e) => [e.token, e.asked, e.says])"
READY = """async (address) => {
  const shelf = await caches.open("riserbook-pages");
  const keys = await new Promise((resolve) => {
    const asked = indexedDB.open("riserbook");
    asked.onsuccess = () => {
      const count = asked.result.transaction("keys").objectStore("keys").count();
      count.onsuccess = () => resolve(count.result);
    };
  });
  return navigator.serviceWorker.controller !== null && keys > 0 && !!(await shelf.match(address));
}"""


def assert_as_done(book, run: int) -> None:
    """Once each, in the order of the work, and no later moment before an earlier one."""
    assert_as_begun(book, run, len(WRITTEN))


def assert_as_begun(book, run: int, steps: int) -> None:
    """The same of the first so many steps."""
    told = deed(book, "tell", str(run))
    assert told["kinds"] == WRITTEN[:steps]
    assert told["in_order"] and told["is_whole"]


def test_the_server_is_killed_before_each_step_of_a_run(book, server, chromium):  # noqa: F811
    made = deed(book, "begin")
    phone = Phone(chromium, server.port, made["session"])
    phone.open(made["address"])
    for number, step in enumerate(RUN):
        server.kill()
        phone.do(*step)
        assert phone.kept() == 1
        shown = phone.page.locator("main").inner_text()
        assert "not yet in the book" in shown or phone.page.locator("#outbox").is_visible()
        assert "Accepted" not in shown and "Back in service" not in shown
        if number == 4:  # the page itself is loaded again without a book
            phone.page.reload()
            phone.heading(step[2])
        server.start()
        phone.sent()
        phone.heading(step[2])
    assert_as_done(book, made["run"])


def test_a_whole_run_without_a_book_arrives_in_order_when_it_is_back(book, server, chromium):  # noqa: F811
    made = deed(book, "begin")
    phone = Phone(chromium, server.port, made["session"])
    phone.open(made["address"])
    server.kill()
    for step in RUN:
        phone.do(*step)
        assert "Accepted" not in phone.page.locator("main").inner_text()
    assert phone.kept() == len(RUN)
    phone.page.reload()
    phone.heading(RUN[-1][2])
    server.start()
    phone.sent()
    phone.heading("Accepted")
    assert_as_done(book, made["run"])


def test_cut_at_random_points_nothing_is_lost_doubled_or_out_of_order(book, server, chromium):  # noqa: F811
    line, chance = Line(server.port), random.Random(SEED)
    runs = 0
    try:
        while line.count < CUTS:
            made = deed(book, "begin")
            phone = Phone(chromium, line.port, made["session"])
            phone.open(made["address"])
            for step in RUN:
                _cut_or_mend(line, chance)
                phone.do(*step)
                for _ in range(chance.randrange(4)):  # the same entries, cut at other points
                    _cut_or_mend(line, chance)
                    phone.page.evaluate("() => riserbook.flush()")
                if chance.random() < 0.15:
                    phone.page.reload()
                    phone.heading(step[2])
                if chance.random() < 0.3:
                    phone.send()
            line.mend()
            phone.sent()
            phone.heading("Nitrogen vented to zero")
            assert_as_done(book, made["run"])
            phone.context.close()
            runs += 1
    finally:
        line.close()
        print(f"{line.count} cuts in {runs} runs of {len(RUN)} entries, each as done; seed {SEED}")
    assert line.count >= CUTS


def _cut_or_mend(line: Line, chance: random.Random) -> None:
    if chance.random() < 0.3:
        return line.mend()
    way = chance.choice(WAYS)
    return line.cut(way, chance.randrange(1, 4000 if way == "in the request" else 300))
