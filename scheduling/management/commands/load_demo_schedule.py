"""Give the demo portfolio its recurring work: editions, facts, and when things were last done."""

import json
import zlib
from datetime import date, datetime, timedelta
from pathlib import Path

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext

from registry.models import Site, System, User
from scheduling import recurring
from scheduling.models import AdoptedEdition, RecurringItem, SprinklerArea
from scheduling.recurrence import local_day, parse_interval
from scheduling.recurring.upkeep import plan_recurring

FIXTURE = Path("fixtures/demo/schedule.json")
SPREAD = 104  # percent of an interval: about one item in 26 is late


class Command(BaseCommand):
    help = "Load the schedule of the invented demo portfolio, once; again changes nothing."

    def handle(self, *args, **options) -> None:
        facts = json.loads((settings.BASE_DIR / FIXTURE).read_text("utf-8"))
        now = timezone.now()
        by = User.objects.filter(email=facts["by"]).first()
        if by is None:
            raise CommandError(gettext("Load the demo portfolio first: manage.py load_demo"))
        if AdoptedEdition.objects.filter(adopted_by=by).exists():
            self.stdout.write("The demo schedule is loaded already.")
            return
        load(facts, by, now)
        self.stdout.write(f"{RecurringItem.objects.count()} recurring items planned.")


@transaction.atomic
def load(facts, by: User, now: datetime) -> None:
    for name, edition in facts["editions"].items():
        site = Site.objects.get(name=name)
        recurring.adopt_edition(site=site, edition=edition, adopted_by=by, now=now)
    for kind, answers in facts["answers"].items():
        for system in System.objects.filter(kind=kind).select_related("site__owner"):
            recurring.answer_questions(system=system, answers=answers, now=now)
            _spread(system, now)
    for area in facts["sample_areas"]:
        _area(area, now)


def _spread(system: System, now: datetime) -> None:
    """Last done days over one interval each, the same at every loading."""
    today = local_day(now, system.site.zone)
    items = list(system.recurring_items.filter(area=None, anchor="completion"))
    for item in items:
        day = _some_day(f"{system.tag} {item.key}", item.interval, today)
        item.last_done_on = max(day, system.installed_on)
    RecurringItem.objects.bulk_update(items, ["last_done_on"])
    plan_recurring(system=system, now=now)


def _some_day(seed: str, interval: str, today: date) -> date:
    share = zlib.crc32(seed.encode()) % SPREAD / 100
    return today - timedelta(days=round(share * parse_interval(interval).mean_days))


def _area(facts, now: datetime) -> None:
    facts = dict(facts)
    system = System.objects.get(tag=facts.pop("tag"))
    for name in ("installed_on", "last_tested_on"):
        if facts.get(name):
            facts[name] = date.fromisoformat(facts[name])
    recurring.save_area(area=SprinklerArea(system=system, **facts), now=now)
