"""What a process of its own does to the book: `python -m tests.faults.deeds "make 3" "enter 0 3"`.

Prints one line of JSON for each deed. Run against the scratch database that the environment names.
"""

import json
import os
import sys
import time
from datetime import UTC, datetime, timedelta
from uuid import UUID, uuid5

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")

import django  # noqa: E402

django.setup()

from django.db import OperationalError, connection  # noqa: E402
from django.utils import timezone  # noqa: E402

from registry.models import System, User  # noqa: E402
from registry.services import record  # noqa: E402
from registry.signals import record_added  # noqa: E402
from scheduling import tasks  # noqa: E402
from scheduling.jobs import runs  # noqa: E402
from scheduling.jobs import sweep as sweeping  # noqa: E402
from scheduling.messages import causes, sending  # noqa: E402
from scheduling.models import PlanAsked, Task  # noqa: E402
from scheduling.recurring.owning import save_item, seed_row  # noqa: E402
from scheduling.recurring.replanning import PLANNING, plan_asked  # noqa: E402

NAMESPACE = UUID("6f1a7c52-7c0e-4d53-9f3c-1d1f5d0a0b0c")
PATIENCE_S = 60


def make(systems: int) -> dict:
    """The world of the tests, systems in it, and three technicians at the contractor."""
    from tests.conftest import make_world
    from tests.factories import make_system, make_user

    world = make_world()
    for number in range(2):
        make_user(world.contractor, "recorder", f"Technician {number}")
    for number in range(systems):
        make_system(world.site, world.owner, tag=f"NQ-{number:03d}")
    return {"systems": systems}


def enter(first: int, last: int, person: str = "Olive", tell: str = "told") -> dict:
    """An event for each of some systems, as a page that keeps trying until the book has it."""
    if tell == "unheard":
        record_added.receivers.clear()
        record_added.sender_receivers_cache.clear()
    tries = 0
    for pk in list(System.objects.order_by("pk").values_list("pk", flat=True))[first:last]:
        tries += _enter_until_kept(pk, person)
    return {"entered": last - first, "tries": tries}


def _enter_until_kept(pk: int, person: str) -> int:
    deadline = time.monotonic() + PATIENCE_S
    for tries in range(1, 10_000):
        try:
            _enter_one(pk, person)
            return tries
        except OperationalError:
            connection.close()
            if time.monotonic() > deadline:
                raise
            time.sleep(0.05)
    raise AssertionError("never reached")


def _enter_one(pk: int, person: str) -> None:
    record(
        system=System.objects.get(pk=pk),
        kind="event.head_break",
        occurred_at=datetime(2026, 5, 1, 12, tzinfo=UTC),
        details={"count": 1},
        recorded_by=User.objects.get(name__startswith=person),
        client_key=uuid5(NAMESPACE, f"{pk} {person}"),
    )


def send(ahead_s: int = 0) -> dict:
    """As a worker whose clock is so far ahead, which is how time passes for a lease."""
    ahead = timedelta(seconds=ahead_s)
    return {"parcels": sending.send_due(lambda: timezone.now() + ahead)}


def sweep(ahead_s: int = 0) -> dict:
    return {"report": str(sweeping.sweep(timezone.now() + timedelta(seconds=ahead_s)))}


def queue(name: str, count: int) -> dict:
    for _ in range(count):
        getattr(tasks, name).delay()
    return {"queued": count}


def set_aside(row: str) -> dict:
    """An owner leaves a row of the library out, as its page does: the plan is a job's."""
    from registry.models import Organisation, Site
    from tests.scheduling.recurring_world import adopt

    owner = Organisation.objects.get(name="Merrow Harbour Authority")
    manager = User.objects.get(name__startswith="Olive")
    for site in Site.objects.filter(owner=owner):
        adopt(site, manager, now=timezone.now())
    seed = seed_row(row)
    cells = {name: getattr(seed, name) for name in ("title", "group", "source", "how_known")}
    cells |= {"system_kinds": " ".join(seed.system_kinds), "interval": seed.interval.text}
    save_item(
        owner=owner, row=row, cells=cells | {"is_used": False}, changed_by=manager,
        now=timezone.now(),
    )  # fmt: skip
    return {"waiting": PlanAsked.objects.count()}


def plan(ahead_s: int = 0) -> dict:
    """As the worker that takes over, so long after the last sign of life of the one before."""
    ahead = timedelta(seconds=ahead_s)
    with runs.running(PLANNING, lambda: timezone.now() + ahead) as run:
        return {"planned": plan_asked(timezone.now, run.advance) if run else None}


def counts() -> dict:
    """What a reader of the book would count; everything that a fault must leave as it is."""
    from django.db.models import Count

    from scheduling.models import Message

    doubled = Task.objects.values("system", "rule").annotate(n=Count("pk")).filter(n__gt=1)
    mails = Message.objects.filter(endpoint=None)
    return {
        "records": _events(),
        "tasks": Task.objects.count(),
        "doubled": doubled.count(),
        "untold": causes.untold().count(),
        "messages": mails.count(),
        "states": dict(mails.order_by().values_list("state").annotate(n=Count("pk"))),
        "errors": list(mails.exclude(last_error="").values_list("last_error", flat=True)[:3]),
    }


def _events() -> int:
    from registry.models import Record

    return Record.objects.filter(kind="event.head_break").count()


DEEDS = {each.__name__: each for each in (make, enter, send, sweep, queue, set_aside, plan, counts)}


def do(deed: str) -> dict:
    name, *arguments = deed.split()
    return DEEDS[name](*(int(word) if word.isdigit() else word for word in arguments))


if __name__ == "__main__":
    for deed in sys.argv[1:]:
        print(json.dumps(do(deed)))
