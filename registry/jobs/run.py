"""What a job holds while it works, to say how far it is."""

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

from registry.models import Job

SAID_EVERY = timedelta(seconds=5)
Clock = Callable[[], datetime]


class Run:
    def __init__(self, row: Job, clock: Clock):
        self.row, self.clock, self.outcome = row, clock, ""
        self.said_at = clock()

    @property
    def arguments(self) -> dict[str, Any]:
        return self.row.arguments

    def advance(self, pieces: int = 1) -> None:
        """Counts always, writes every few seconds."""
        self.row.done += pieces
        now = self.clock()
        if abs(now - self.said_at) >= SAID_EVERY:
            self.said_at = now
            Job.objects.of_claim(self.row).update(done=self.row.done)
