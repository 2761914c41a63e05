"""The embedded default: one web server and one worker on this machine, and nothing else."""

import os
import socket
import sys
from collections.abc import Callable
from urllib.request import urlopen

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import CommandError

from registry.serving.supervisor import Kept, Once, keep_running

LARGEST_LOG = 5_000_000


def refuse_a_taken_port(port: int, make: str) -> None:
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind(("127.0.0.1", port))
        except OSError as error:
            raise CommandError(
                f"Port {port} is taken ({error.strerror}). Stop what uses it, "
                f"or choose another: {make} PORT={port + 1}"
            ) from error


def set_up() -> None:
    """What pages are served from; the same again each time."""
    call_command("build_chart_bundle", verbosity=0)
    call_command("collectstatic", interactive=False, verbosity=0)


def serve(port: int, say: Callable[[str], None], on_answer: Callable[[], None]) -> None:
    """Until it is stopped. What the two have to say goes into files; the terminal stays readable,
    and what is printed last is what the person needs."""
    web = Kept("web server", web_command(port), {"LOG_FILE": log_file("web")})
    worker = Kept("worker", worker_command(), {"LOG_FILE": log_file("worker")})
    keep_running([web, worker], say, Once(lambda: _answers(port), on_answer))


def _answers(port: int) -> bool:
    try:
        with urlopen(f"http://127.0.0.1:{port}/health/", timeout=2) as answer:  # nosec B310
            return answer.status == 200
    except OSError:
        return False


def log_file(name: str) -> str:
    path = settings.VAR_DIR / "log" / f"{name}.log"
    path.parent.mkdir(parents=True, exist_ok=True)
    if path.exists() and path.stat().st_size > LARGEST_LOG:
        path.replace(path.with_suffix(".log.before"))
    return str(path)


def web_command(port: int) -> list[str]:
    configuration = str(settings.BASE_DIR / "config" / "gunicorn.conf.py")
    return [
        *(sys.executable, "-m", "gunicorn", "config.wsgi", "--config", configuration),
        *("--bind", f"127.0.0.1:{port}", "--workers", "2"),
    ]


def worker_command() -> list[str]:
    if settings.REDIS_URL:
        return [
            *(sys.executable, "-m", "celery", "-A", "config", "--quiet", "worker"),
            *("--concurrency", "2", "--loglevel", "warning"),
        ]
    return [sys.executable, str(settings.BASE_DIR / "manage.py"), "work"]


def address_of(port: int) -> str:
    """The children read the settings anew, so the address they print and link to is this one."""
    return os.environ.setdefault("PUBLIC_URL", f"http://localhost:{port}")
