"""Which files of the project run between the form of an event and the mail that it leads to.

The guide lists them. After a change: WRITE_GUIDE=1 pytest tests/test_one_event_path.py
"""

import gc
import os
import sys
from collections.abc import Callable, Iterable, Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from django.core import mail
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from scheduling.messages import outbox
from scheduling.messages.sending import send_due
from tests.factories import make_pipe_run, make_system

ROOT = Path(__file__).parents[1]
APPS = ("config", "registry", "scheduling", "reports")
GUIDE = ROOT / "DEVELOPERS.md"
BEGIN, END = (
    "<!-- one event: WRITE_GUIDE=1 pytest tests/test_one_event_path.py -->",
    "<!-- /one -->",
)
GOAL = 40


def files_run(work: Callable[[], object]) -> list[str]:
    """The project's files of which a function ran, in the order of their first call. What runs
    when a module is imported does not count: that is no part of the path."""
    seen: dict[str, None] = {}
    known: dict[str, str] = {}

    def note(frame, event, arg) -> None:
        if event != "call" or frame.f_code.co_name == "<module>":
            return
        file = frame.f_code.co_filename
        if file not in known:
            known[file] = _in_project(Path(file))
        if known[file]:
            seen[known[file]] = None

    before = sys.getprofile()
    gc.collect()
    gc.disable()  # or what an earlier test left behind would be closed on this path
    sys.setprofile(note)
    try:
        work()
    finally:
        sys.setprofile(before)
        gc.enable()
    return list(seen)


def _in_project(path: Path) -> str:
    if not path.is_relative_to(ROOT):
        return ""
    inside = path.relative_to(ROOT)
    return inside.as_posix() if inside.parts[0] in APPS else ""


def told_in_guide(files: Iterable[str]) -> Iterator[str]:
    """A line for each room, in the order in which the event comes to it."""
    rooms: dict[str, list[str]] = {}
    for file in files:
        room, _, name = file.rpartition("/")
        rooms.setdefault(room, []).append(name.removesuffix(".py"))
    count = sum(map(len, rooms.values()))
    yield f"Today these are {count} files; the goal is fewer than {GOAL}."
    yield ""
    yield from (f"1. `{room}/` {', '.join(sorted(names))}" for room, names in rooms.items())


def with_path(guide: str, files: Iterable[str]) -> str:
    before, _, rest = guide.partition(BEGIN)
    return "\n".join([before + BEGIN, *told_in_guide(files), END]) + rest.partition(END)[2]


def enter_head_break(client: Client, system) -> None:
    """On its form, and on to the mail to whoever has the work."""
    address = reverse("registry:record-new", args=[system.pk, "event.head_break"])
    happened = (timezone.now() - timedelta(hours=2)).astimezone(system.site.zone)
    answers = {"occurred_at": f"{happened:%Y-%m-%dT%H:%M}", "count": "1"}
    response = client.post(address, answers)
    assert response.status_code == 302, response.content.decode()
    send_due(lambda: timezone.now() + outbox.GATHERING)


@pytest.mark.django_db
def test_the_guide_lists_what_one_event_runs_on_its_way_to_the_mail(world):
    client = Client()
    client.force_login(world.owner)
    first, second = (make_system(world.site, world.owner, now=timezone.now()) for _ in range(2))
    for system in (first, second):
        make_pipe_run(system, now=timezone.now())  # without pipe there is nothing to score
    enter_head_break(client, first)  # fills what is kept in memory, whichever test came before
    sent = len(mail.outbox)
    files = files_run(lambda: enter_head_break(client, second))
    assert len(mail.outbox) == sent + 1
    assert "registry/views/records.py" in files and "scheduling/messages/mail.py" in files
    guide = GUIDE.read_text(encoding="utf-8")
    if os.environ.get("WRITE_GUIDE"):
        GUIDE.write_text(with_path(guide, files), encoding="utf-8")
        return
    # In any order: other tests take receivers off and put them back at the end.
    assert sorted(with_path(guide, files).splitlines()) == sorted(guide.splitlines()), (
        "run WRITE_GUIDE=1 pytest tests/test_one_event_path.py"
    )
