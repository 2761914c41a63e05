"""Give the demo portfolio its contractors' days: crews, and orders in every state of work."""

from datetime import UTC, datetime, time, timedelta

from django.core.management.base import BaseCommand, CommandError
from django.db import transaction
from django.db.models import Case, When
from django.utils import timezone
from django.utils.translation import gettext

from registry.models import Membership, Organisation, User
from scheduling import services
from scheduling.models import Crew, Task
from scheduling.models.querysets import codes_of_runs

CREWS = ("Van 1", "Van 2")
FIRST_HOUR, HOURS, LUNCH = 8, 3, 1
A_DAY = 2  # jobs of one crew
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
    crews = [Crew.objects.create(organisation=contractor, name=name) for name in CREWS]
    crews[0].people.add(by)
    tasks = list(
        Task.objects.open()
        .filter(assigned_to=contractor)
        .exclude(opens_at__gt=now + timedelta(days=14))
        .select_related("system__site")
        .order_by(Case(When(kind__in=codes_of_runs(), then=0), default=1), "due_at", "pk")
    )
    *rest, hard, far = tasks if len(tasks) > 3 else [*tasks, None, None]
    for place, task in enumerate(rest):
        act(task, place, crews, by, now)
    if hard and far:
        services.accept(task=hard, by=by, now=now)
        services.give_up(task=hard, by=by, now=now, reason=REASONS["cannot"])
        services.decline(task=far, by=by, now=now, reason=REASONS["decline"])


def act(task: Task, place: int, crews: list[Crew], by: User, now: datetime) -> None:
    """Of four, two are booked, one is accepted and one is left as it was offered."""
    if place % 4 == 3:
        return
    if place % 4 == 2:
        services.accept(task=task, by=by, now=now)
        return
    turn, crew = divmod(place - place // 2, len(crews))
    starts_at = slot(task, turn, now)
    ends_at = starts_at + timedelta(hours=HOURS)
    services.book(
        task=task, crew=crews[crew], by=by, now=now, starts_at=starts_at, ends_at=ends_at,
        reason=REASONS["late"] if ends_at > task.due_at else "",
    )  # fmt: skip


def slot(task: Task, turn: int, now: datetime) -> datetime:
    """Mornings and afternoons of the coming days, on the clock of the site, once it counts."""
    days, half = divmod(turn, A_DAY)
    first = max(now, task.opens_at or now).astimezone(task.zone).date()
    hour = FIRST_HOUR + half * (HOURS + LUNCH)
    day = first + timedelta(days=days + 1)
    return datetime.combine(day, time(hour), tzinfo=task.zone).astimezone(UTC)


def worker_of(contractor: Organisation) -> User:
    member = contractor.memberships.exclude(role=Membership.Role.READER).order_by("pk").first()
    if member is None:
        raise CommandError(
            gettext("{contractor} has nobody who may take work on.").format(contractor=contractor)
        )
    return member.user
