"""`make demo` as a newcomer runs it: in an empty folder, with a real server and a real worker."""

import os
import re
import signal
import socket
import subprocess
import sys
import time
from http.cookiejar import CookieJar
from pathlib import Path
from urllib.parse import urlencode
from urllib.request import HTTPCookieProcessor, build_opener

import pytest

pytestmark = pytest.mark.skipif(
    "DATABASE_URL" in os.environ,
    reason="the demo brings its own database, whatever the tests use; run without DATABASE_URL",
)

ROOT = Path(__file__).parents[1]
PATIENCE_S = 600


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def demo(folder: Path, port: int, **options) -> subprocess.Popen:
    """The demo with the embedded default, whatever the tests use."""
    outside = {"DATABASE_URL", "REDIS_URL", "STATIC_MANIFEST", "DJANGO_SETTINGS_MODULE"}
    kept = {name: value for name, value in os.environ.items() if name not in outside}
    return subprocess.Popen(
        [sys.executable, "manage.py", "demo", "--port", str(port)],
        cwd=ROOT, env=kept | {"RISERBOOK_VAR_DIR": str(folder / "book")}, text=True, **options,
    )  # fmt: skip


@pytest.fixture
def running(tmp_path):
    folder, port = tmp_path, free_port()
    log = (folder / "log").open("w")
    process = demo(folder, port, stdout=log, stderr=subprocess.STDOUT)
    address = f"http://localhost:{port}"
    deadline = time.monotonic() + PATIENCE_S
    while process.poll() is None and time.monotonic() < deadline and not answers(address):
        time.sleep(0.2)
    while process.poll() is None and time.monotonic() < deadline and not said(folder, address):
        time.sleep(0.2)  # the sign-ins are printed last, once the book answers
    yield port, folder
    process.send_signal(signal.SIGINT)
    code = process.wait(timeout=30)
    log.close()
    assert code == 0, (folder / "log").read_text()


def said(folder: Path, words: str) -> bool:
    return words in (folder / "log").read_text()


def answers(address: str) -> bool:
    try:
        with build_opener().open(f"{address}/sign-in/", timeout=2) as response:
            return response.status == 200
    except OSError:
        return False


def signed_in(port: int, email: str, password: str) -> str:
    """The first page after signing in."""
    browser = build_opener(HTTPCookieProcessor(CookieJar()))
    with browser.open(f"http://localhost:{port}/sign-in/") as page:
        token = re.search(r'name="csrfmiddlewaretoken" value="(\w+)"', page.read().decode())[1]
    data = urlencode({"csrfmiddlewaretoken": token, "login": email, "password": password})
    browser.addheaders = [("Referer", f"http://localhost:{port}/sign-in/")]
    with browser.open(f"http://localhost:{port}/sign-in/", data.encode()) as page:
        return page.read().decode()


@pytest.mark.thorough
def test_the_demo_prints_sign_ins_that_work_and_serves_its_own_styles(running):
    """One test, since loading the demo takes most of a minute."""
    port, folder = running
    printed = (folder / "log").read_text()
    assert f"http://localhost:{port}" in printed
    assert len(printed.splitlines()) < 25, "the terminal does not stay readable"
    email, password = re.search(r"(manager@\S+)\s+(\S+)", printed).groups()
    page = signed_in(port, email, password)
    assert "all 64 systems" in page
    assets = re.findall(r'(?:href|src)="(/static/[^"]+)"', page)
    assert len(assets) >= 2
    for asset in assets:
        with build_opener().open(f"http://localhost:{port}{asset}") as response:
            assert response.status == 200


def test_a_demo_on_a_port_that_is_taken_says_what_to_do(tmp_path):
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        second = demo(tmp_path, port, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        _, complaint = second.communicate(timeout=60)
    assert second.returncode == 1
    assert f"make demo PORT={port + 1}" in complaint
