"""Keeps the web server and the worker running: one that ends is started again, after pauses that
grow, and the other goes on meanwhile."""

import os
import signal
import subprocess
import time
from collections.abc import Callable
from dataclasses import dataclass, field

LOOKS_EVERY_S = 0.2
LONGEST_PAUSE_S = 60.0
STEADY_S = 120.0
"""Whoever ran for so long begins with the shortest pause again."""
STOPS_WITHIN_S = 10.0


@dataclass
class Kept:
    name: str
    command: list[str]
    env: dict[str, str] = field(default_factory=dict)
    process: subprocess.Popen | None = None
    started_at: float = 0.0
    pause_s: float = 1.0
    again_at: float = 0.0

    def start(self, now: float) -> None:
        self.process = subprocess.Popen(self.command, env=os.environ | self.env)
        self.started_at = now

    def look(self, now: float, say: Callable[[str], None]) -> None:
        if self.process is None:
            if now >= self.again_at:
                self.start(now)
            return
        status = self.process.poll()
        if status is None:
            return
        if now - self.started_at > STEADY_S:
            self.pause_s = 1.0
        say(f"The {self.name} ended (status {status}); it is started again in {self.pause_s:g} s.")
        self.process, self.again_at = None, now + self.pause_s
        self.pause_s = min(LONGEST_PAUSE_S, 2 * self.pause_s)


@dataclass
class Once:
    """Something to be done when something has come."""

    has_come: Callable[[], bool]
    do: Callable[[], None]
    is_done: bool = False

    def look(self) -> None:
        if not self.is_done and self.has_come():
            self.is_done = True
            self.do()


def keep_running(kept: list[Kept], say: Callable[[str], None], then: Once) -> None:
    """Until Ctrl-C or SIGTERM; then all are ended."""
    stopped = False

    def stop(*_args) -> None:
        nonlocal stopped
        stopped = True

    signal.signal(signal.SIGINT, stop)
    signal.signal(signal.SIGTERM, stop)
    while not stopped:
        for each in kept:
            each.look(time.monotonic(), say)
        then.look()
        time.sleep(LOOKS_EVERY_S)
    _end([each.process for each in kept if each.process])


def _end(processes: list[subprocess.Popen]) -> None:
    for process in processes:
        process.terminate()
    for process in processes:
        try:
            process.wait(timeout=STOPS_WITHIN_S)
        except subprocess.TimeoutExpired:
            process.kill()
