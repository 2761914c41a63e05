import uuid
from datetime import date, timedelta
from zoneinfo import ZoneInfo

from django.db import models
from django.db.models import Q
from django.urls import reverse

from registry.models import Organisation, Record, System
from registry.translation import _
from scheduling.models.bookings import Crew, WorkState
from scheduling.models.querysets import TaskQuerySet
from scheduling.rules import Work, work_of


class Task(models.Model):
    """A follow-up: what is to be done at one system, why, by whom and until when.

    Rules raise it and the ledger closes it; nobody ticks it off by hand. `cause_key` is fixed when
    it is raised, so that applying a rule again finds the same row; `cause` moves along when
    the record is corrected and still holds.
    """

    class Status(models.TextChoices):
        OPEN = "open", _("Open")
        DONE = "done", _("Done")
        WITHDRAWN = "withdrawn", _("Withdrawn")

    uuid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    system = models.ForeignKey(System, on_delete=models.PROTECT, related_name="tasks")
    rule = models.CharField(max_length=40)
    kind = models.CharField(max_length=24, help_text="The code of the work that its rule asks for.")
    cause = models.ForeignKey(
        Record, on_delete=models.PROTECT, null=True, blank=True, related_name="tasks"
    )
    cause_key = models.CharField(max_length=100)
    further_causes = models.ManyToManyField(Record, blank=True, related_name="merged_tasks")
    title = models.CharField(max_length=150)
    why = models.TextField()
    assigned_to = models.ForeignKey(Organisation, on_delete=models.PROTECT, related_name="tasks")
    is_handed_over = models.BooleanField(
        default=False, help_text=_("A person, and not the rules, said who has it.")
    )
    work_state = models.CharField(
        max_length=10, choices=WorkState, default=WorkState.OFFERED, editable=False
    )
    work_reason = models.TextField(
        blank=True, help_text=_("Why it was declined or cannot be done.")
    )
    crew = models.ForeignKey(
        Crew, on_delete=models.PROTECT, null=True, blank=True, related_name="tasks"
    )
    is_promised = models.BooleanField(
        default=False, help_text=_("The customer was promised the very time; no plan moves it.")
    )
    turn = models.PositiveIntegerField(
        default=0, editable=False, help_text=_("Counts changes of work, so that of two one wins.")
    )
    opens_at = models.DateTimeField(
        null=True, blank=True, help_text=_("Earlier work does not count; empty: any time.")
    )
    starts_at = models.DateTimeField(help_text=_("Begin of the time set aside in calendars."))
    ends_at = models.DateTimeField()
    due_at = models.DateTimeField(help_text=_("Late from here on."))
    due_because = models.TextField(blank=True, help_text=_("Why this date and no other."))
    dating_key = models.CharField(
        max_length=200, blank=True, help_text=_("What the date rests on; while it holds, it stays.")
    )
    time_zone = models.CharField(
        max_length=64, help_text=_("The site's zone that the times follow.")
    )
    status = models.CharField(max_length=10, choices=Status, default=Status.OPEN)
    raised_at = models.DateTimeField()
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(
        Record, on_delete=models.PROTECT, null=True, blank=True, related_name="closed_tasks"
    )
    closing_note = models.CharField(max_length=300, blank=True)

    sequence = models.PositiveIntegerField(default=0, editable=False)
    slot_digest = models.CharField(max_length=64, blank=True, editable=False)
    text_digest = models.CharField(max_length=64, blank=True, editable=False)
    modified_at = models.DateTimeField()

    objects = TaskQuerySet.as_manager()
    remarks: list[str] = []
    """What a booking just made goes against by assumed hours and ways; not kept."""

    class Meta:
        ordering = ["due_at", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["rule", "system", "cause_key"], name="one_task_per_rule_system_and_cause"
            ),
            models.CheckConstraint(
                condition=Q(ends_at__gt=models.F("starts_at")), name="task_ends_after_it_starts"
            ),
            models.CheckConstraint(
                condition=Q(status="open", closed_at__isnull=True)
                | (~Q(status="open") & Q(closed_at__isnull=False)),
                name="closed_tasks_say_when",
            ),
            models.CheckConstraint(
                condition=~Q(work_state__in=["declined", "cannot"]) | ~Q(work_reason=""),
                name="work_that_is_not_done_says_why",
            ),
        ]
        indexes = [
            models.Index(fields=["status", "due_at"]),
            models.Index(fields=["system", "status"]),
            models.Index(fields=["crew", "starts_at"]),
        ]

    def __str__(self) -> str:
        return f"{self.title}: {self.system}"

    def get_absolute_url(self) -> str:
        return reverse("scheduling:task", args=[self.pk])

    @property
    def is_open(self) -> bool:
        return self.status == self.Status.OPEN

    @property
    def work(self) -> Work:
        """What it asks people to do, with all that follows from that."""
        return work_of(self.kind)

    @property
    def is_booked(self) -> bool:
        """Its time in calendars is one that was agreed, not the one the rules propose."""
        return self.work_state in (WorkState.BOOKED, WorkState.STARTED)

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.time_zone)

    @property
    def due_on(self) -> date:
        """The last day, in the site's zone, on which the work is still in time."""
        return (self.due_at - timedelta(microseconds=1)).astimezone(self.zone).date()

    @property
    def calendar_uid(self) -> str:
        """RFC 7986 5.3 asks for a UUID that tells nothing of the host or the person."""
        return str(self.uuid)
