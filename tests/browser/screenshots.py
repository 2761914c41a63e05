"""Pictures of the demo portfolio for the README: python -m tests.browser.screenshots [FOLDER].

Loads the demo into a folder of its own, serves it on a free port and photographs it in Chromium.
"""

import argparse
import os
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from urllib.error import URLError
from urllib.request import urlopen

from playwright.sync_api import Browser, Page, sync_playwright

CHROMIUM = os.environ.get("CHROMIUM", "/usr/bin/chromium")
CHROMIUM_ARGUMENTS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"]
ROOT = Path(__file__).parents[2]
DESK, PHONE = (1280, 800), (390, 844)
PATIENCE_S = 30

MANAGER = "manager@averhythe.example"
TECHNICIAN, AT_THE_RISER = "technician@pellmoor.example", "technician@dunlore.example"


@dataclass(frozen=True)
class Shot:
    name: str
    person: str  # mail address in the demo; empty: nobody signed in
    view: str
    of: str = ""  # what the address needs: "system", "run"
    size: tuple[int, int] = DESK
    scheme: str = "light"
    is_whole: bool = False  # the whole page instead of the first screen


SHOTS = (
    Shot("portfolio", MANAGER, "reports:portfolio"),
    Shot("system", MANAGER, "registry:system", of="system"),
    Shot("risk", MANAGER, "reports:risk", of="system"),
    Shot("run-phone", AT_THE_RISER, "registry:run", of="run", size=PHONE),
    Shot("work", TECHNICIAN, "scheduling:work"),
)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", nargs="?", type=Path, default=ROOT / "docs" / "pictures")
    parser.add_argument("--only", default="", help="take the pictures whose name begins so")
    options = parser.parse_args()
    options.folder.mkdir(parents=True, exist_ok=True)
    shots = [shot for shot in SHOTS if shot.name.startswith(options.only)]
    with tempfile.TemporaryDirectory(prefix="riserbook-pictures-") as folder:
        prepare_demo(folder)
        with serving() as address, sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=CHROMIUM, args=CHROMIUM_ARGUMENTS)
            for shot in shots:
                take(browser, address, shot, options.folder / f"{shot.name}.png")


def prepare_demo(folder: str) -> None:
    """Set this process up on a database of its own; the server inherits the environment."""
    os.environ |= {"RISERBOOK_VAR_DIR": folder, "DJANGO_SETTINGS_MODULE": "config.settings"}
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "1"  # Playwright runs an event loop in this thread
    import django
    from django.core.management import call_command

    django.setup()
    from registry.management.commands.demo import LOADED_IN_ORDER

    call_command("migrate", verbosity=0)
    call_command("build_chart_bundle", verbosity=0)
    call_command("collectstatic", interactive=False, verbosity=0)
    for step in LOADED_IN_ORDER:
        call_command(step)


@contextmanager
def serving() -> Iterator[str]:
    port = free_port()
    bind = ["--bind", f"127.0.0.1:{port}", "--log-level", "warning"]
    server = subprocess.Popen([sys.executable, "-m", "gunicorn", "config.wsgi", *bind], cwd=ROOT)
    try:
        wait_for(f"http://localhost:{port}/sign-in/")
        yield f"http://localhost:{port}"
    finally:
        server.terminate()
        server.wait(timeout=10)


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def wait_for(address: str) -> None:
    deadline = time.monotonic() + PATIENCE_S
    while time.monotonic() < deadline:
        try:
            urlopen(address, timeout=5).close()
            return
        except (URLError, ConnectionError):
            time.sleep(0.2)
    raise SystemExit(f"{address} did not answer within {PATIENCE_S} s.")


def take(browser: Browser, address: str, shot: Shot, file: Path) -> None:
    width, height = shot.size
    page = browser.new_page(viewport={"width": width, "height": height}, color_scheme=shot.scheme)
    page.on("console", lambda message: print(f"{shot.name}: {message.text}", file=sys.stderr))
    if shot.person:
        sign_in(page, address, shot.person)
    answer = page.goto(address + address_of(shot))
    if answer is None or answer.status != 200:
        raise SystemExit(f"{shot.name}: {answer and answer.status} from {page.url}")
    overflow = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
    if overflow > 0:
        print(f"{shot.name}: {overflow} px wider than the screen", file=sys.stderr)
    page.screenshot(path=str(file), full_page=shot.is_whole)
    page.close()
    print(file)


def sign_in(page: Page, address: str, email: str) -> None:
    from registry.demo import demo_password

    page.goto(f"{address}/sign-in/")
    page.get_by_label("E-mail address").fill(email)
    page.get_by_label("Password").fill(demo_password())
    page.get_by_role("button", name="Sign in", exact=True).click()
    page.locator("#menu").wait_for(state="attached")


def address_of(shot: Shot) -> str:
    from django.urls import reverse

    return reverse(shot.view, args=[find(shot)] if shot.of else [])


def find(shot: Shot) -> int:
    """The most telling object that the person may see."""
    from django.db.models import Count

    from registry.models import InertingRun, System, User

    user = User.objects.get(email=shot.person)
    if shot.of == "run":
        runs = InertingRun.objects.filter(system__in=System.objects.recordable_by(user))
        return runs.filter(status=InertingRun.Status.OPEN)[0].pk
    systems = System.objects.visible_to(user).annotate(busy=Count("records")).order_by("-busy")
    return systems[0].pk


if __name__ == "__main__":
    main()
