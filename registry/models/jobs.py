"""Work for the worker, as rows: asked for, claimed, seen to live, ended."""

from datetime import datetime, timedelta

from django.db import models
from django.db.models import Exists, OuterRef, Q
from django.utils.translation import gettext_lazy as _

from registry.models.people import Organisation

SILENT_FOR = timedelta(minutes=2)
"""A worker says more often than this that a job of its lives."""
LONGEST_PAUSE = timedelta(hours=1)
"""Longer than any pause between two attempts; what waits longer was put off by a wrong clock."""


class JobQuerySet(models.QuerySet["Job"]):
    def due(self, now: datetime) -> "JobQuerySet":
        """To be claimed now: what waits, what is tried again, and what a dead worker had. Of one
        kind and key no two run at once."""
        held = Job.objects.filter(
            kind=OuterRef("kind"), key=OuterRef("key"), state__in=Job.HELD
        ).exclude(pk=OuterRef("pk"))
        waits = Q(state=Job.State.WAITING, run_after__lte=now) & ~Exists(held)
        paused = Q(state=Job.State.PAUSED) & (
            Q(run_after__lte=now) | Q(run_after__gt=now + LONGEST_PAUSE)
        )
        return self.filter(waits | paused | self._silent(now)).order_by("run_after", "pk")

    @staticmethod
    def _silent(now: datetime) -> Q:
        """Silent also when the clock has since gone back behind its last sign of life."""
        out_of_hearing = Q(heartbeat_at__lt=now - SILENT_FOR) | Q(heartbeat_at__gt=now + SILENT_FOR)
        return Q(state=Job.State.RUNNING) & out_of_hearing

    def of_claim(self, job: "Job") -> "JobQuerySet":
        """What this very claim holds; nothing once another worker has taken it over."""
        return self.filter(pk=job.pk, state=Job.State.RUNNING, claim=job.claim)


class Job(models.Model):
    """One piece of work. What it does is said by the kind of that code, in `registry.jobs`."""

    class State(models.TextChoices):
        WAITING = "waiting", _("Waiting")
        RUNNING = "running", _("Running")
        PAUSED = "paused", _("Failed, to be tried again")
        DONE = "done", _("Done")
        GIVEN_UP = "given_up", _("Given up")

    HELD = (State.RUNNING, State.PAUSED)
    OPEN = (State.WAITING, *HELD)

    kind = models.CharField(max_length=60)
    key = models.CharField(max_length=100, blank=True)
    arguments = models.JSONField(default=dict, blank=True)
    owner = models.ForeignKey(
        Organisation, on_delete=models.SET_NULL, null=True, blank=True, related_name="jobs"
    )
    state = models.CharField(max_length=8, choices=State, default=State.WAITING)
    asked_at = models.DateTimeField()
    run_after = models.DateTimeField()
    attempts = models.PositiveSmallIntegerField(default=0)
    claim = models.UUIDField(null=True, blank=True, editable=False)
    worker = models.CharField(max_length=100, blank=True)
    started_at = models.DateTimeField(null=True, blank=True)
    heartbeat_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    done = models.PositiveIntegerField(default=0, help_text=_("Pieces of work so far."))
    outcome = models.CharField(max_length=300, blank=True)
    error = models.CharField(max_length=300, blank=True)

    objects = JobQuerySet.as_manager()

    class Meta:
        ordering = ["-asked_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["kind", "key"], condition=Q(state="waiting"), name="one_job_of_a_key_waits"
            ),
            models.UniqueConstraint(
                fields=["kind", "key"],
                condition=Q(state__in=["running", "paused"]),
                name="one_job_of_a_key_runs",
            ),
        ]
        indexes = [
            models.Index(
                fields=["run_after"],
                condition=Q(state__in=["waiting", "running", "paused"]),
                name="jobs_to_run",
            ),
            models.Index(fields=["ended_at"]),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.key}".strip()

    @property
    def is_running(self) -> bool:
        return self.state == self.State.RUNNING

    @property
    def is_given_up(self) -> bool:
        return self.state == self.State.GIVEN_UP

    def is_silent(self, now: datetime) -> bool:
        return (
            self.is_running
            and self.heartbeat_at is not None
            and abs(now - self.heartbeat_at) > SILENT_FOR
        )


class WorkerSign(models.Model):
    """The last sign of life of each worker, so that a page can say when there is none."""

    name = models.CharField(max_length=100, primary_key=True)
    started_at = models.DateTimeField()
    seen_at = models.DateTimeField()

    class Meta:
        ordering = ["-seen_at"]

    def __str__(self) -> str:
        return self.name
