import uuid
from datetime import date, datetime, timedelta

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.urls import reverse

from registry.models import System, User
from registry.translation import _

KEPT_FOR = timedelta(days=60)
WEEK = timedelta(days=7)


class ReportKind(models.TextChoices):
    PORTFOLIO = "portfolio", _("One report of what is chosen")
    SITES = "sites", _("A report of each site")


class ReportSchedule(models.Model):
    """Reports that a person has mailed to themselves: of which systems, how often, on which day.
    `query` is the address of the portfolio that chooses them, as its filters write it."""

    class Rhythm(models.TextChoices):
        WEEKLY = "weekly", _("Every week")
        MONTHLY = "monthly", _("Every month")

    person = models.ForeignKey(User, on_delete=models.CASCADE, related_name="report_schedules")
    kind = models.CharField(_("Report"), max_length=10, choices=ReportKind)
    query = models.CharField(max_length=500, blank=True)
    rhythm = models.CharField(_("How often"), max_length=8, choices=Rhythm)
    day = models.PositiveSmallIntegerField(
        _("Day"), default=1, validators=[MinValueValidator(1), MaxValueValidator(28)]
    )
    next_on = models.DateField()
    last_on = models.DateField(null=True, blank=True)
    is_active = models.BooleanField(default=True)
    created_at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(day__gte=1, day__lte=28), name="report_day_is_in_every_month"
            ),
            models.CheckConstraint(
                condition=Q(rhythm="monthly") | Q(day__lte=7), name="report_weekday_is_one_of_seven"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}, {self.get_rhythm_display()}"

    def after(self, day: date) -> date:
        """The first day later than this one on which it is due; weekdays count from Monday, 1."""
        if self.rhythm == self.Rhythm.WEEKLY:
            return day + timedelta(days=(self.day - day.isoweekday() - 1) % 7 + 1)
        here = day.replace(day=self.day)
        return here if here > day else (day.replace(day=28) + WEEK).replace(day=self.day)


class ReportBatch(models.Model):
    """Reports that somebody asked for, made by a job: one PDF, or many in a ZIP. `systems` are
    those it tells of: whoever may not see them all any more is not given the file."""

    uuid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    person = models.ForeignKey(User, on_delete=models.CASCADE, related_name="report_batches")
    schedule = models.ForeignKey(
        ReportSchedule, on_delete=models.SET_NULL, null=True, blank=True, related_name="batches"
    )
    kind = models.CharField(_("Report"), max_length=10, choices=ReportKind)
    query = models.CharField(max_length=500, blank=True)
    as_of = models.DateField()
    since = models.DateField()
    known_on = models.DateField(null=True, blank=True)
    asked_at = models.DateTimeField()
    reports = models.PositiveIntegerField(default=0)
    systems = models.JSONField(default=list, blank=True)
    made_at = models.DateTimeField(null=True, blank=True)
    file = models.FileField(upload_to="reports", blank=True)
    bytes = models.PositiveBigIntegerField(default=0)
    sha256 = models.CharField(max_length=64, blank=True)
    refused = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["-asked_at", "-pk"]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}, {self.as_of}"

    def get_absolute_url(self) -> str:
        return reverse("reports:kept")

    @property
    def is_over(self) -> bool:
        return bool(self.made_at or self.refused)

    @property
    def kept_until(self) -> datetime | None:
        return self.made_at + KEPT_FOR if self.made_at else None

    @property
    def file_name(self) -> str:
        ending = "zip" if self.kind == ReportKind.SITES else "pdf"
        return f"{self.kind}-{self.as_of:%Y-%m-%d}.{ending}"

    @property
    def content_type(self) -> str:
        return "application/zip" if self.kind == ReportKind.SITES else "application/pdf"

    def is_for(self, person: User) -> bool:
        """Whether the person asked for it and still may see all that is in it."""
        if person.pk != self.person_id:
            return False
        seen = System.objects.visible_to(person).filter(pk__in=self.systems).count()
        return seen == len(self.systems)
