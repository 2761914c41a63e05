"""The clock of the queue, of which any number may run: one ticks, the others stand by."""

import logging
from datetime import timedelta

from celery.beat import PersistentScheduler
from django.db import DatabaseError, InterfaceError, connection
from django.utils import timezone

from scheduling.jobs.runs import hold, this_process

log = logging.getLogger(__name__)

LENGTH = timedelta(seconds=30)
AGAIN_S = 10.0


class OneBeat(PersistentScheduler):
    def __init__(self, *args, **kwargs):
        self.holder = this_process()
        super().__init__(*args, **kwargs)

    def tick(self, *args, **kwargs) -> float:
        """Seconds until the next look; short enough to keep the lease."""
        if not self._holds():
            return AGAIN_S
        return min(AGAIN_S, super().tick(*args, **kwargs))

    def _holds(self) -> bool:
        """Without the database nobody ticks: there is nothing the jobs could do either."""
        try:
            return hold("beat", holder=self.holder, now=timezone.now(), length=LENGTH)
        except (DatabaseError, InterfaceError) as error:
            log.warning("beat.no_database %s", error)
            return False
        finally:
            connection.close()
