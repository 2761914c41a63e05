from django.core.validators import MaxValueValidator
from django.db import models
from django.db.models import Q

from registry.models import Organisation, User
from registry.translation import _


class WorkState(models.TextChoices):
    """How far whoever has a follow-up has come with it; the ledger alone says that it is done."""

    OFFERED = "offered", _("Offered")
    ACCEPTED = "accepted", _("Accepted")
    BOOKED = "booked", _("Booked")
    STARTED = "started", _("Under way")
    DECLINED = "declined", _("Declined")
    CANNOT = "cannot", _("Cannot be done")


class Crew(models.Model):
    """People of one organisation who go out together; one person alone may be a crew."""

    organisation = models.ForeignKey(Organisation, on_delete=models.PROTECT, related_name="crews")
    name = models.CharField(max_length=60)
    people = models.ManyToManyField(User, blank=True, related_name="crews")
    is_active = models.BooleanField(_("goes out"), default=True)
    depot = models.ForeignKey(
        "scheduling.Depot", on_delete=models.SET_NULL, null=True, blank=True, related_name="crews"
    )
    hours = models.CharField(max_length=200, blank=True)
    skills = models.CharField(max_length=200, blank=True)
    cylinder_places = models.PositiveIntegerField(
        null=True, blank=True, validators=[MaxValueValidator(200)]
    )
    overtime_minutes = models.PositiveIntegerField(
        null=True, blank=True, validators=[MaxValueValidator(480)]
    )
    absences = models.TextField(blank=True, help_text=_("A line each: first and last day away."))

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(
                fields=["organisation", "name"], name="one_crew_of_a_name_per_organisation"
            )
        ]

    def __str__(self) -> str:
        return self.name


class TaskEvent(models.Model):
    """A line of a follow-up's trail: who changed what, when, from what to what, and why.

    Lines are only ever added. `was` and `became` hold what changed and nothing else, by the names
    in `scheduling.follow_ups.trail`; `by` is empty where the rules or the passing of time did it.
    """

    class What(models.TextChoices):
        RAISED = "raised", _("Raised")
        ACCEPTED = "accepted", _("Accepted")
        DECLINED = "declined", _("Declined")
        BOOKED = "booked", _("Booked")
        MOVED = "moved", _("Moved")
        CREWED = "crewed", _("Given to a crew")
        STARTED = "started", _("Begun")
        CANNOT = "cannot", _("Cannot be done")
        REASSIGNED = "reassigned", _("Handed over")
        REDATED = "redated", _("Due date changed")
        ESCALATED = "escalated", _("Escalated")
        COMMENTED = "commented", _("Comment")
        DONE = "done", _("Done")
        WITHDRAWN = "withdrawn", _("Withdrawn")
        REOPENED = "reopened", _("Opened again")

    task = models.ForeignKey("scheduling.Task", on_delete=models.CASCADE, related_name="trail")
    what = models.CharField(max_length=12, choices=What)
    at = models.DateTimeField()
    by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="task_events"
    )
    was = models.JSONField(default=dict, blank=True)
    became = models.JSONField(default=dict, blank=True)
    reason = models.TextField(blank=True)

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(what__in=["declined", "cannot", "commented"]) | ~Q(reason=""),
                name="declining_has_a_reason",
            )
        ]

    def __str__(self) -> str:
        return f"{self.task_id}: {self.what} at {self.at:%Y-%m-%d %H:%M}"
