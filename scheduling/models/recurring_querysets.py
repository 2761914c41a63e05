from datetime import datetime
from typing import TYPE_CHECKING

from django.db.models import Q

from registry.models.querysets import ThroughSystemQuerySet
from scheduling.models.querysets import SHOWN_AFTER_CLOSING

if TYPE_CHECKING:
    from registry.models import Site


class OccurrenceQuerySet(ThroughSystemQuerySet):
    def open(self):
        return self.filter(status="open")

    def late(self, now: datetime):
        return self.open().filter(late_at__lte=now)

    def to_do(self, now: datetime):
        """Open, and the window has opened."""
        return self.open().filter(opens_at__lte=now)

    def on_calendars(self, now: datetime):
        """What a feed shows: all that is open, and what was settled in the last 30 days."""
        return self.filter(Q(status="open") | Q(settled_at__gt=now - SHOWN_AFTER_CLOSING))

    def at(self, site: "Site"):
        return self.filter(system__site=site)

    def with_place(self):
        return self.select_related("item", "system__site", "system__building")
