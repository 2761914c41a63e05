from datetime import datetime, timedelta

from django.db import models
from django.db.models import Q

from registry.translation import _

SILENT_FOR = timedelta(minutes=5)
"""A running job says more often than this that it lives."""


class JobRun(models.Model):
    """One run of a recurring job: that it lives, how far it is, what came of it."""

    class State(models.TextChoices):
        RUNNING = "running", _("Running")
        DONE = "done", _("Done")
        FAILED = "failed", _("Failed")
        LOST = "lost", _("Died on the way; a later run did the rest")

    name = models.CharField(max_length=40)
    state = models.CharField(max_length=8, choices=State, default=State.RUNNING)
    worker = models.CharField(max_length=100)
    started_at = models.DateTimeField()
    heartbeat_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)
    done = models.PositiveIntegerField(default=0, help_text=_("Pieces of work so far."))
    outcome = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["-started_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["name"], condition=Q(state="running"), name="one_run_of_a_job_at_a_time"
            )
        ]

    def __str__(self) -> str:
        return f"{self.name}: {self.get_state_display()}"

    @property
    def is_running(self) -> bool:
        return self.state == self.State.RUNNING

    def is_silent(self, now: datetime) -> bool:
        return self.is_running and abs(now - self.heartbeat_at) > SILENT_FOR


class Lease(models.Model):
    """Who holds what only one may hold, and until when."""

    name = models.CharField(max_length=40, primary_key=True)
    holder = models.CharField(max_length=100)
    until = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.name}: {self.holder}"
