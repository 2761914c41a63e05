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

from registry.jobs import ask  # noqa: E402
from registry.models import Job, System, User  # noqa: E402
from registry.services import record  # noqa: E402
from registry.signals import record_added  # noqa: E402
from scheduling.jobs import sweep as sweeping  # noqa: E402
from scheduling.messages import causes, sending  # noqa: E402
from scheduling.models import PlanAsked, Task  # noqa: E402
from scheduling.recurring.owning import save_item, seed_row  # noqa: E402
from scheduling.recurring.replanning import plan_asked  # noqa: E402

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


def queue(kind: str, count: int, **arguments: str) -> dict:
    for _ in range(count):
        ask(kind, key="" if not arguments else None, arguments=arguments)
    return {"queued": Job.objects.filter(kind=kind).count()}


def deadly(how: str) -> dict:
    return queue("test.deadly", 1, how=how)


def ended(kind: str) -> dict:
    rows = Job.objects.filter(kind=kind)
    return {"jobs": list(rows.values_list("arguments__how", "state", "attempts", "error"))}


def set_aside(row: str) -> dict:
    """An owner leaves a row of the library out, as its page does: the plan is a job's."""
    from registry.models import Organisation, Site
    from tests.scheduling.recurring_world import adopt

    owner = Organisation.objects.get(name="Averhythe Quays")
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


def plan() -> dict:
    """What a worker that takes over still finds to be planned."""
    return {"planned": plan_asked(timezone.now)}


def crew_plan(orders: int) -> dict:
    """A week of orders at sites of their own, asked to be planned."""
    from scheduling.planning.weeks.proposing import ask_plan
    from tests.conftest import make_world
    from tests.scheduling.orders_world import make_crew
    from tests.scheduling.planning_world import make_depot, order_at

    world, now = make_world(), timezone.now()
    depot = make_depot(world.contractor)
    for name in ("Van 1", "Van 2", "Van 3", "Van 4"):
        make_crew(
            world.contractor, name, world.technician, hours="Mon-Fri 8-17", cylinder_places=8,
            depot=depot,
        )  # fmt: skip
    for number in range(orders):
        north, east = number * 37 % 50 - 25, number * 53 % 50 - 25
        order_at(world, f"SK-{number}", north, east, volume_m3=0.2 + number % 5, now=now)
    monday = now.date() + timedelta(days=7 - now.weekday())
    ask_plan(organisation=world.contractor, first_on=monday, asked_by=world.technician, now=now)
    return {"orders": orders}


def accept_crew_plan() -> dict:
    """Book what the plan holds, twice over."""
    from scheduling.models import WeekPlan
    from scheduling.planning.weeks.accepting import accept_plan

    plan = WeekPlan.objects.select_related("organisation", "asked_by").get()
    done = [
        accept_plan(plan=plan, chosen=None, by=plan.asked_by, now=timezone.now()) for _ in range(2)
    ]
    return {
        "booked": [len(one.booked) for one in done],
        "refused": [len(one.refused) for one in done],
        "tasks": Task.objects.booked().count(),
    }


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


def fingerprint() -> dict:
    """The book as a reader would find it: its rows, its chains, its key."""
    from hashlib import sha256

    from django.apps import apps
    from django.conf import settings

    from registry.backup.checking import check
    from registry.models import Record

    check(Record.objects.count())
    hashes = Record.objects.order_by("pk").values_list("hash", flat=True)
    passing = ("Session", "Job", "WorkerSign", "Message")
    rows = {
        model._meta.db_table: model._base_manager.count()
        for model in apps.get_models(include_auto_created=True)
        if model.__name__ not in passing
    }
    files = sorted(path.name for path in settings.MEDIA_ROOT.rglob("*") if path.is_file())
    return {
        "chains": sha256("".join(hashes).encode()).hexdigest(),
        "rows": rows,
        "files": files,
        "key": sha256(settings.SECRET_KEY.encode()).hexdigest(),
    }


def attach(name: str) -> dict:
    """A file of the book, as an import keeps one."""
    from django.core.files.base import ContentFile
    from django.core.files.storage import default_storage

    return {"kept": default_storage.save(f"imports/{name}", ContentFile(name.encode() * 1000))}


def long_calendar(entries: int) -> dict:
    """A feed of so many follow-ups, copied from one, that nobody has fetched yet."""
    from uuid import uuid4

    from scheduling.calendars.tokens import issue_token

    task = Task.objects.first()
    assert task is not None
    copies = []
    for number in range(entries):
        task.pk, task.uuid, task.cause_key = None, uuid4(), f"copy {number}"
        copies.append(
            Task(**{f.attname: getattr(task, f.attname) for f in Task._meta.concrete_fields})
        )
    Task.objects.bulk_create(copies, batch_size=500)
    person = User.objects.get(name__startswith="Olive")
    _, secret = issue_token(user=person, label="Long", scope="person", now=timezone.now())
    return {"address": f"/feed/{secret}.ics"}


def _events() -> int:
    from registry.models import Record

    return Record.objects.filter(kind="event.head_break").count()


DEEDS = {
    each.__name__: each
    for each in (
        make,
        enter,
        send,
        sweep,
        queue,
        deadly,
        ended,
        set_aside,
        plan,
        crew_plan,
        accept_crew_plan,
        counts,
        fingerprint,
        attach,
        long_calendar,
    )
}


def do(deed: str) -> dict:
    name, *arguments = deed.split()
    return DEEDS[name](*(int(word) if word.isdigit() else word for word in arguments))


if __name__ == "__main__":
    for deed in sys.argv[1:]:
        print(json.dumps(do(deed)))
