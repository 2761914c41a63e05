import uuid
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from django.db import models
from django.db.models import Q

from registry.models import Organisation, Site, User
from registry.models.sites import check_time_zone
from registry.translation import _
from scheduling.models.tasks import Task
from scheduling.models.webhooks import WebhookEndpoint

LEASE = timedelta(minutes=10)
"""Longer than any sending: a claim older than this belonged to a worker that died."""
LONGEST_WAIT = timedelta(days=2)
"""Longer than back-off and quiet hours together; what waits longer was put off by a clock that was
wrong."""


class MessageQuerySet(models.QuerySet):
    def due(self, now: datetime):
        """To be sent now: what has waited long enough, and what a dead worker had claimed."""
        has_waited = Q(not_before__lte=now) | Q(not_before__gt=now + LONGEST_WAIT)
        is_abandoned = Q(claimed_at__lte=now - LEASE) | Q(claimed_at__gt=now + LEASE)
        return self.filter(
            (Q(state=Message.State.PENDING) & has_waited)
            | (Q(state=Message.State.CLAIMED) & is_abandoned)
        )

    def of_parcel(self, parcel: uuid.UUID, claimed_at: datetime):
        """What this very claim holds; nothing once another worker has taken it over."""
        return self.filter(state=Message.State.CLAIMED, parcel=parcel, claimed_at=claimed_at)


class Message(models.Model):
    """One thing that one recipient is to be told once.

    It is written in the transaction of its cause and sent later. The pair of constraints is
    what keeps anybody from being told twice. `parcel` names what travels together: it is given
    at the first claim and kept through every retry, so that a repeat can be known as one.
    """

    class Kind(models.TextChoices):
        ASSIGNMENT = "assignment", _("Follow-up given to your organisation")
        ESCALATION = "escalation", _("Follow-up late")
        DIGEST = "digest", _("Weekly digest")
        JOB = "job", _("Job of the book given up")
        VERDICT = "verdict", _("Records that do not hold")
        PACKAGE = "package", _("Package that you asked for")
        RULE = "rule", _("Rule that could not be applied")
        REPORT = "report", _("Report that you asked for")
        RECORD_ADDED = "record.added", _("Record added to a ledger")
        TASK_ASSIGNED = "follow_up.assigned", _("Follow-up assigned")
        TASK_CLOSED = "follow_up.closed", _("Follow-up closed")
        TASK_LATE = "follow_up.late", _("Follow-up late")
        TRIAL = "trial", _("Trial delivery")

    MAILED = (
        Kind.ASSIGNMENT, Kind.ESCALATION, Kind.DIGEST, Kind.JOB, Kind.VERDICT, Kind.PACKAGE,
        Kind.RULE, Kind.REPORT,
    )  # fmt: skip
    POSTED = (Kind.RECORD_ADDED, Kind.TASK_ASSIGNED, Kind.TASK_CLOSED, Kind.TASK_LATE)

    class State(models.TextChoices):
        PENDING = "pending", _("Waiting")
        CLAIMED = "claimed", _("Being sent")
        SENT = "sent", _("Sent")
        FAILED = "failed", _("Given up")
        DROPPED = "dropped", _("Not needed")

    uuid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    person = models.ForeignKey(
        User, on_delete=models.CASCADE, null=True, blank=True, related_name="mail"
    )
    endpoint = models.ForeignKey(
        WebhookEndpoint, on_delete=models.CASCADE, null=True, blank=True, related_name="messages"
    )
    kind = models.CharField(max_length=24, choices=Kind)
    cause_key = models.CharField(max_length=100)
    task = models.ForeignKey(
        Task, on_delete=models.CASCADE, null=True, blank=True, related_name="messages"
    )
    body = models.TextField(blank=True, help_text=_("What a webhook posts; mail is written late."))
    state = models.CharField(max_length=8, choices=State, default=State.PENDING)
    created_at = models.DateTimeField()
    not_before = models.DateTimeField()
    attempts = models.PositiveSmallIntegerField(default=0)
    parcel = models.UUIDField(null=True, blank=True, editable=False)
    claimed_at = models.DateTimeField(null=True, blank=True)
    settled_at = models.DateTimeField(null=True, blank=True)
    last_error = models.CharField(max_length=500, blank=True)

    objects = MessageQuerySet.as_manager()

    class Meta:
        ordering = ["-created_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["person", "kind", "cause_key"],
                condition=Q(person__isnull=False),
                name="one_mail_per_person_kind_and_cause",
            ),
            models.UniqueConstraint(
                fields=["endpoint", "kind", "cause_key"],
                condition=Q(endpoint__isnull=False),
                name="one_post_per_endpoint_kind_and_cause",
            ),
            models.CheckConstraint(
                condition=Q(person__isnull=True) ^ Q(endpoint__isnull=True),
                name="message_has_one_recipient",
            ),
        ]
        indexes = [
            models.Index(
                fields=["not_before"],
                condition=Q(state__in=["pending", "claimed"]),
                name="messages_to_send",
            ),
            models.Index(fields=["parcel"]),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} to {self.person or self.endpoint}"

    @property
    def channel(self) -> str:
        return "mail" if self.person_id else "webhook"

    @property
    def is_sent(self) -> bool:
        return self.state == self.State.SENT

    @property
    def has_failed(self) -> bool:
        return self.state == self.State.FAILED


class Notice(models.Model):
    """Whom the book last told that a follow-up is theirs; nobody, once it is closed.

    `turn` counts the changes: given away and given back is news, the same state again is not.
    The sweep compares it with the follow-up, so that a change which told nobody is told late.
    """

    task = models.OneToOneField(
        Task, on_delete=models.CASCADE, primary_key=True, related_name="notice"
    )
    organisation = models.ForeignKey(
        Organisation, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    turn = models.PositiveIntegerField(default=0)

    def __str__(self) -> str:
        return f"{self.task_id}: turn {self.turn}"


class MailPreference(models.Model):
    """What one person wants by mail, and when not."""

    person = models.OneToOneField(
        User, on_delete=models.CASCADE, primary_key=True, related_name="mail_preference"
    )
    time_zone = models.CharField(
        max_length=64,
        default="UTC",
        validators=[check_time_zone],
        help_text=_("IANA name, for example Europe/London. Quiet hours and the digest follow it."),
    )
    quiet_from = models.TimeField(
        _("quiet from"),
        null=True,
        blank=True,
        help_text=_("No mail from this time, for example 19:00."),
    )
    quiet_until = models.TimeField(
        _("quiet until"), null=True, blank=True, help_text=_("Mail that waited is sent then.")
    )
    wants_assignment = models.BooleanField(
        _("When a follow-up is given to my organisation"), default=True
    )
    wants_escalation = models.BooleanField(
        _("When a late follow-up is reported to me"), default=True
    )
    wants_digest = models.BooleanField(_("Weekly digest, Monday morning"), default=True)
    wants_job = models.BooleanField(_("When a job of the book is given up"), default=True)
    wants_verdict = models.BooleanField(
        _("When the nightly check finds that the book does not hold"), default=True
    )
    wants_package = models.BooleanField(
        _("When a package of records that I asked for is ready"), default=True
    )
    wants_rule = models.BooleanField(
        _("When a rule could not be applied to a system"), default=True
    )

    wants_report = models.BooleanField(
        _("When a report that I asked for, once or on a day of each week or month, is ready"),
        default=True,
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(quiet_from__isnull=True, quiet_until__isnull=True)
                | Q(quiet_from__isnull=False, quiet_until__isnull=False),
                name="quiet_hours_have_both_ends",
            )
        ]

    def __str__(self) -> str:
        return f"Mail to {self.person}"

    @classmethod
    def of(cls, person: User) -> "MailPreference":
        """What the person chose, or what holds until they choose: all kinds, no quiet hours, the
        zone of the first site they may see."""
        if chosen := cls.objects.filter(person=person).first():
            return chosen
        site = Site.objects.visible_to(person).order_by("pk").first()
        return cls(person=person, time_zone=site.time_zone if site else "UTC")

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.time_zone)

    def wants(self, kind: str) -> bool:
        return bool(getattr(self, f"wants_{kind}"))
