"""Serve the demo portfolio: one web server, one worker with its clock, until Ctrl-C."""

import os
import signal
import socket
import subprocess
import sys
import time

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError

from registry.demo import demo_password, demo_people

LOADED_IN_ORDER = ("load_demo", "load_demo_schedule", "load_demo_orders", "rescore")


class Command(BaseCommand):
    help = __doc__

    def add_arguments(self, parser) -> None:
        parser.add_argument("--port", type=int, default=8000)

    def handle(self, *, port: int, **options) -> None:
        _refuse_a_taken_port(port)
        # The children read the settings anew, so the address they print and link to is this one.
        os.environ.setdefault("PUBLIC_URL", f"http://localhost:{port}")
        call_command("migrate", verbosity=0)
        call_command("build_chart_bundle", verbosity=0)
        call_command("collectstatic", interactive=False, verbosity=0)
        for step in LOADED_IN_ORDER:
            call_command(step)
        self._print_sign_ins(port)
        children = [subprocess.Popen(_web(port)), subprocess.Popen(_worker())]
        sys.exit(_wait(children))

    def _print_sign_ins(self, port: int) -> None:
        self.stdout.write(f"\nRiserbook is at http://localhost:{port}  (Ctrl-C stops it)\n")
        for person in demo_people():
            self.stdout.write(f"  {person.email:34} {demo_password()}   {person.does}")
        self.stdout.write("")
        self.stdout.flush()


def _refuse_a_taken_port(port: int) -> None:
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind(("127.0.0.1", port))
        except OSError as error:
            raise CommandError(
                f"Port {port} is taken ({error.strerror}). Stop what uses it, "
                f"or choose another: make demo PORT={port + 1}"
            ) from error


def _web(port: int) -> list[str]:
    return [
        *(sys.executable, "-m", "gunicorn", "config.wsgi", "--bind", f"127.0.0.1:{port}"),
        *("--preload", "--workers", "2", "--threads", "4", "--log-level", "warning"),
    ]


def _worker() -> list[str]:
    schedule = str(settings.VAR_DIR / "beat-schedule")
    return [
        *(sys.executable, "-m", "celery", "-A", "config", "--quiet", "worker", "--beat"),
        *("--schedule", schedule, "--pool", "solo", "--loglevel", "warning"),
    ]


def _wait(children: list[subprocess.Popen]) -> int:
    """Wait until one child ends or somebody stops us; then end them all."""
    stopped = False

    def stop(*_args) -> None:
        nonlocal stopped
        stopped = True

    signal.signal(signal.SIGINT, stop)
    signal.signal(signal.SIGTERM, stop)
    while not stopped and all(child.poll() is None for child in children):
        time.sleep(0.2)
    for child in children:
        child.terminate()
    for child in children:
        try:
            child.wait(timeout=10)
        except subprocess.TimeoutExpired:
            child.kill()
    return 0 if stopped else 1
