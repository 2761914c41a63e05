"""Give the demo portfolio its contractors' days: crews, and orders in every state of work."""

import json
from datetime import datetime, timedelta

from django.core.management.base import BaseCommand, CommandError
from django.db import transaction
from django.db.models import Case, When
from django.utils import timezone
from django.utils.translation import gettext

from registry.demo.people import FOLDER
from registry.models import Membership, Organisation, Site, User
from scheduling import services
from scheduling.models import Crew, Depot, Place, Task
from scheduling.models.querysets import codes_of_runs
from scheduling.planning.filling import fill_days

REASONS = {
    "decline": "No lift truck for the high bay before next month.",
    "cannot": "The auxiliary drain is seized; it has to be replaced first.",
    "late": "The shed is closed until then.",
}


class Command(BaseCommand):
    help = "Load crews and booked orders of the invented demo portfolio, once."

    def handle(self, *args, **options) -> None:
        contractors = Organisation.objects.filter(kind=Organisation.Kind.CONTRACTOR)
        if not contractors:
            raise CommandError(gettext("Load the demo portfolio first: manage.py load_demo"))
        if Crew.objects.exists():
            self.stdout.write("The demo's crews and orders are loaded already.")
            return
        for contractor in contractors:
            load(contractor, timezone.now())
        self.stdout.write(f"{Task.objects.booked().count()} orders booked.")


@transaction.atomic
def load(contractor: Organisation, now: datetime) -> None:
    by = worker_of(contractor)
    crews = crews_for(contractor, by, now)
    tasks = list(
        Task.objects.open()
        .filter(assigned_to=contractor)
        .exclude(opens_at__gt=now + timedelta(days=14))
        .with_place()
        .select_related("system__site__owner")
        .order_by(Case(When(kind__in=codes_of_runs(), then=0), default=1), "due_at", "pk")
    )
    *rest, hard, far = tasks if len(tasks) > 3 else [*tasks, None, None]
    act(rest, crews, by, now)
    if hard and far:
        services.accept(task=hard, by=by, now=now)
        services.give_up(task=hard, by=by, now=now, reason=REASONS["cannot"])
        services.decline(task=far, by=by, now=now, reason=REASONS["decline"])


def crews_for(contractor: Organisation, by: User, now: datetime) -> list[Crew]:
    """Two vans and their depot, and where the sites that the contractor serves lie."""
    facts = json.loads((FOLDER / "crews.json").read_text("utf-8"))
    depot = Depot.objects.create(organisation=contractor, counted_on=now.date(), **facts["depot"])
    crews = []
    for row in facts["crews"]:
        crew = Crew.objects.create(organisation=contractor, depot=depot, **row)
        crew.people.add(by)
        crews.append(crew)
    said = {"changed_by": by, "changed_at": now}
    for site in Site.objects.filter(service_contracts__contractor=contractor).distinct():
        latitude, longitude, hours = facts["places"][site.name]
        where = {"latitude": latitude, "longitude": longitude, "hours": hours}
        Place.objects.get_or_create(site=site, building=None, defaults=where | said)
        for building in site.buildings.filter(name__in=facts["buildings"]):
            hours = facts["buildings"][building.name]
            Place.objects.get_or_create(
                site=site, building=building, defaults={"hours": hours} | said
            )
    return crews


def act(tasks: list[Task], crews: list[Crew], by: User, now: datetime) -> None:
    """Of four, two are booked, one is accepted and one is left as it was offered."""
    to_book: list[list[Task]] = [[] for _ in crews]
    for place, task in enumerate(tasks):
        if place % 4 < 2:
            to_book[place % 4 % len(crews)].append(task)
        elif place % 4 == 2:
            services.accept(task=task, by=by, now=now)
    for crew, asked in zip(crews, to_book, strict=True):
        filled = fill_days(asked, crew, now.date() + timedelta(days=1), now=now)
        for one in filled.placed:
            reason = REASONS["late"] if one.ends_at > one.task.due_at else ""
            services.book(
                task=one.task, crew=crew, by=by, now=now, starts_at=one.starts_at,
                ends_at=one.ends_at, reason=reason,
            )  # fmt: skip


def worker_of(contractor: Organisation) -> User:
    member = contractor.memberships.exclude(role=Membership.Role.READER).order_by("pk").first()
    if member is None:
        raise CommandError(
            gettext("{contractor} has nobody who may take work on.").format(contractor=contractor)
        )
    return member.user
