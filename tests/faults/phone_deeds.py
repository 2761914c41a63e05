"""What the tests of a phone ask of the book: `python -m tests.faults.phone_deeds begin`."""

import json
import os
import sys
from datetime import timedelta
from uuid import uuid4

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")

import django  # noqa: E402

django.setup()

from django.conf import settings  # noqa: E402
from django.contrib.sessions.backends.db import SessionStore  # noqa: E402
from django.utils import timezone  # noqa: E402

from registry.chain import verify  # noqa: E402
from registry.models import InertingRun, Site, User  # noqa: E402
from registry.quantities import PSI  # noqa: E402
from registry.runs.planning import opening_answers, plan_for_system  # noqa: E402
from registry.runs.steps import RunStep  # noqa: E402
from registry.services.ledger import links  # noqa: E402
from registry.services.runs import log_step, start_run  # noqa: E402


def begin() -> dict:
    """A system with a run under way, and a session of its technician."""
    from tests.conftest import make_world
    from tests.factories import make_system

    if not User.objects.exists():
        make_world()
    technician = User.objects.get(name__startswith="Tam")
    owner = User.objects.get(name__startswith="Olive")
    system = make_system(
        Site.objects.earliest("pk"), owner, tag=f"NQ-{uuid4().hex[:6]}", volume_override_m3=1.5
    )
    answers = opening_answers(system, oxygen=None)
    answers |= {"cylinder": "large", "reserve_pressure_gauge_pa": 200 * PSI}
    run = start_run(
        system=system, plan=plan_for_system(system, answers), opened_by=technician,
        opened_at=timezone.now() - timedelta(minutes=5),
    )  # fmt: skip
    log_step(
        run=run, step=RunStep.from_token("checked"), details={"air_o2_percent": 20.9},
        recorded_by=technician, occurred_at=timezone.now(), client_key=uuid4(),
    )  # fmt: skip
    return {"run": run.pk, "address": run.get_absolute_url(), "session": _session(technician)}


def _session(user: User) -> str:
    session = SessionStore()
    session["_auth_user_id"] = str(user.pk)
    session["_auth_user_backend"] = settings.AUTHENTICATION_BACKENDS[0]
    session["_auth_user_hash"] = user.get_session_auth_hash()
    session.save()
    return session.session_key


def tell(pk: str) -> dict:
    """The steps of a run as the book has them."""
    run = InertingRun.objects.get(pk=int(pk))
    rows = list(run.records.order_by("sequence"))
    moments = [row.occurred_at for row in rows]
    return {
        "kinds": [row.kind.removeprefix("inerting.") for row in rows],
        "in_order": moments == sorted(moments),
        "is_whole": not list(verify(links(run.system))),
    }


if __name__ == "__main__":
    print(json.dumps({"begin": begin, "tell": tell}[sys.argv[1]](*sys.argv[2:])))
