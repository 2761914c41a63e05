from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from django.db.models import (
    Case,
    Exists,
    F,
    IntegerField,
    OuterRef,
    Q,
    Subquery,
    TextField,
    Value,
    When,
)
from django.db.models.functions import Cast, JSONArray

from registry.models import AtmosphereSpan, ServiceContract
from registry.models.querysets import (
    OWNER_WRITERS,
    ThroughSystemQuerySet,
    impaired_since,
    protection_now,
    protection_of,
)
from scheduling.rules import works

if TYPE_CHECKING:
    from registry.models import User

SHOWN_AFTER_CLOSING = timedelta(days=30)


def codes_of_runs() -> list[str]:
    return [work.code for work in works().values() if work.is_inerting_run]


def codes_of_protection() -> list[str]:
    return [work.code for work in works().values() if work.is_about_protection]


def protection_first() -> Case:
    """To order by: what is out of service comes before all else."""
    is_about_it = When(kind__in=codes_of_protection(), then=Value(0))
    return Case(is_about_it, default=Value(1), output_field=IntegerField())


class TaskQuerySet(ThroughSystemQuerySet):
    def open(self):
        return self.filter(status="open")

    def closed(self):
        return self.exclude(status="open")

    def overdue(self, now: datetime):
        return self.open().filter(due_at__lte=now)

    def due_between(self, first: datetime, last: datetime):
        """Due from `first` on and before `last`."""
        return self.filter(due_at__gte=first, due_at__lt=last)

    def for_organisations_of(self, user: "User"):
        """What the person's own organisations are to do, out of all they may see."""
        return self.filter(assigned_to__in=user.organisations.values("pk"))

    def told_to(self, user: "User"):
        """Those of their organisations, and what owner and contractor are both told of."""
        own = user.organisations.values("pk")
        of_both = Q(kind__in=codes_of_protection(), system__site__owner__in=own)
        return self.filter(Q(assigned_to__in=own) | of_both)

    def workable_by(self, user: "User"):
        """What the person may accept, book and begin: its site's writers within whoever has it."""
        mine = user.memberships.filter(role__in=OWNER_WRITERS).values("organisation")
        return self.recordable_by(user).filter(assigned_to__in=mine)

    def inerting_runs(self):
        """Work that is carried out as an inerting run."""
        return self.filter(kind__in=codes_of_runs())

    def booked(self):
        """Open, with a time that was agreed."""
        return self.open().filter(work_state__in=["booked", "started"])

    def agreed(self):
        """With a time that was agreed, still to be done or done at it."""
        return self.filter(work_state__in=["booked", "started"]).exclude(status="withdrawn")

    def refused(self):
        """Open, and whoever had it will not or cannot do it: the owner's managers decide."""
        return self.open().filter(work_state__in=["declined", "cannot"])

    def on_calendars(self, now: datetime):
        """What a feed shows: all that is open, and what was closed in the last 30 days."""
        return self.filter(Q(status="open") | Q(closed_at__gt=now - SHOWN_AFTER_CLOSING))

    def misplaced(self, now: datetime):
        """Timed in a zone the site has left, or given to somebody whom the contracts at the site
        no longer name: a contractor gone, or the owner while a contractor serves."""
        serving = ServiceContract.objects.in_force_at(now).filter(site=OuterRef("system__site"))
        is_wrong_party = Q(assigned_to__kind="contractor") & ~Exists(
            serving.filter(contractor=OuterRef("assigned_to"))
        )
        owners = [work.code for work in works().values() if work.stays_with_owner]
        is_by_rule = Q(is_handed_over=False) & ~Q(kind__in=owners)
        is_unserved = Q(assigned_to__kind="owner") & is_by_rule & Exists(serving)
        return self.filter(
            ~Q(time_zone=F("system__site__time_zone")) | is_wrong_party | is_unserved
        )

    def with_state(self, now: datetime):
        """Adds the atmosphere of the system at `now`, and its protection."""
        spans = AtmosphereSpan.objects.filter(
            system=OuterRef("system"), starts_at__lte=now
        ).order_by("-starts_at")
        return self.annotate(
            atmosphere_state=Subquery(spans.values("state")[:1]),
            impaired_since=impaired_since("system"),
            **protection_of("system"),
        )

    def with_protection(self):
        """Adds the state of protection of the system, since when, why and where."""
        return self.annotate(**protection_of("system"))

    def with_protection_text(self):
        """Adds what an entry in a calendar says of protection, as one text."""
        shown = Cast(JSONArray("state", "state_since", "areas", "unanswered"), TextField())
        spans = protection_now("system").annotate(shown=shown)
        return self.annotate(protection_text=Subquery(spans.values("shown")[:1]))

    def with_place(self):
        return self.select_related("system__site", "system__building", "assigned_to", "crew")
