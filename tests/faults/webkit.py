"""Debian's WebKit as a second engine: its driver spoken to over HTTP, as W3C WebDriver says."""

import contextlib
import json
import os
import shutil
import subprocess
import time
from collections.abc import Callable, Iterator
from glob import glob
from pathlib import Path
from typing import Any
from urllib.error import HTTPError
from urllib.request import Request, urlopen

from tests.faults.conftest import free_port
from tests.readers.tools import need

BROWSERS = "/usr/lib/*/webkit2gtk-4*/MiniBrowser"
PATIENCE_S = int(os.environ.get("WEBKIT_PATIENCE_S", "60"))
ELEMENT = "element-6066-11e4-a52e-4f735466cecf"
"""The name under which an element is given (W3C WebDriver, 12.1)."""


@contextlib.contextmanager
def webkit(folder: Path) -> Iterator["WebKit"]:
    """A browser of its own, on a screen that nobody sees."""
    driver, screen = shutil.which("WebKitWebDriver"), shutil.which("Xvfb")
    need(driver, "WebKit's driver is missing (Debian: webkit2gtk-driver)")
    need(screen, "Xvfb is missing (Debian: xvfb)")
    browsers = glob(BROWSERS)
    need(browsers, "MiniBrowser is missing (Debian: webkit2gtk-driver)")
    display = f":{free_port()}"
    env = {**os.environ, "DISPLAY": display, "GDK_BACKEND": "x11", "HOME": str(folder)}
    env |= {f"XDG_{name}_HOME": str(folder / name) for name in ("DATA", "CACHE", "CONFIG")}
    env |= {"XDG_RUNTIME_DIR": str(folder), "LIBGL_ALWAYS_SOFTWARE": "1", "LANG": "C.UTF-8"}
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    port = free_port()
    with contextlib.ExitStack() as ends:
        for command in ([screen, display, "-nolisten", "tcp"], [driver, f"--port={port}"]):
            process = subprocess.Popen(command, env=env, **quiet)
            ends.callback(process.wait)
            ends.callback(process.kill)
        page = WebKit(port, browsers[0])
        ends.callback(page.close)
        yield page


class WebKit:
    def __init__(self, port: int, browser: str):
        self.address = f"http://127.0.0.1:{port}"
        self.until("the driver answers", self._is_ready)
        options = {"binary": browser, "args": ["--automation"]}
        wanted = {"alwaysMatch": {"webkitgtk:browserOptions": options}}
        made = self._ask("POST", "/session", {"capabilities": wanted})
        self.version = made["capabilities"]["browserVersion"]
        self.session = f"/session/{made['sessionId']}"
        self._do("/timeouts", {"pageLoad": PATIENCE_S * 1000, "script": PATIENCE_S * 1000})

    def _is_ready(self) -> bool:
        with contextlib.suppress(OSError):
            return bool(self._ask("GET", "/status")["ready"])
        return False

    def _ask(self, method: str, path: str, body: dict[str, Any] | None = None) -> Any:
        data = None if body is None else json.dumps(body).encode()
        request = Request(f"{self.address}{path}", data, method=method)
        try:
            with urlopen(request, timeout=2 * PATIENCE_S) as answer:
                return json.loads(answer.read())["value"]
        except HTTPError as error:
            raise AssertionError(f"{method} {path}: {error.read().decode()}") from error

    def _do(self, path: str, body: dict[str, Any]) -> Any:
        return self._ask("POST", f"{self.session}{path}", body)

    def open(self, address: str) -> None:
        self._do("/url", {"url": address})

    def reload(self) -> None:
        self._do("/refresh", {})

    def sign_in_as(self, session: str) -> None:
        """On a page of the book: a cookie is taken for the host that is shown alone."""
        cookie = {"name": "sessionid", "value": session, "path": "/", "httpOnly": True}
        self._do("/cookie", {"cookie": cookie})

    def run(self, script: str) -> Any:
        return self._do("/execute/sync", {"script": script, "args": []})

    def wait_for(self, script: str) -> Any:
        """What the promise of an expression comes to."""
        whole = f"const end = arguments[0]; ({script}).then(end, (lost) => end(String(lost)));"
        return self._do("/execute/async", {"script": whole, "args": []})

    def click(self, selector: str) -> None:
        found = self._do("/element", {"using": "css selector", "value": selector})
        self._do(f"/element/{found[ELEMENT]}/click", {})

    def type(self, selector: str, text: str) -> None:
        found = self._do("/element", {"using": "css selector", "value": selector})
        self._do(f"/element/{found[ELEMENT]}/value", {"text": text})

    def heading(self) -> str:
        return str(self.run("return document.querySelector('main h1')?.textContent.trim() || ''"))

    def shown(self) -> Any:
        with contextlib.suppress(AssertionError, AttributeError):
            return self.run("return [location.href, document.body.innerText.slice(0, 400)]")

    def until(self, what: str, condition: Callable[[], Any]) -> None:
        deadline = time.monotonic() + PATIENCE_S
        while not condition():
            if time.monotonic() > deadline:
                raise AssertionError(f"{what}: it did not come; {self.shown()}")
            time.sleep(0.1)

    def close(self) -> None:
        with contextlib.suppress(AssertionError, OSError):
            self._ask("DELETE", self.session)
