"""What a plan of days rests on beside the orders: depots, how long work takes, where sites lie."""

from datetime import time

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from registry.models import Building, Organisation, Site, User
from registry.translation import _

DEGREES_NORTH = [MinValueValidator(-90), MaxValueValidator(90)]
DEGREES_EAST = [MinValueValidator(-180), MaxValueValidator(180)]
HOURS_LENGTH = 200


class Depot(models.Model):
    """Where vans set out, come home and take on full cylinders."""

    organisation = models.ForeignKey(Organisation, on_delete=models.CASCADE, related_name="depots")
    name = models.CharField(max_length=60)
    latitude = models.FloatField(null=True, blank=True, validators=DEGREES_NORTH)
    longitude = models.FloatField(null=True, blank=True, validators=DEGREES_EAST)
    full_cylinders = models.PositiveIntegerField(
        null=True, blank=True, validators=[MaxValueValidator(10_000)]
    )
    counted_on = models.DateField(null=True, blank=True)
    deliveries = models.TextField(blank=True, help_text=_("A line each: day and cylinders."))

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(
                fields=["organisation", "name"], name="one_depot_of_a_name_per_organisation"
            ),
            models.CheckConstraint(
                condition=Q(latitude__isnull=True, longitude__isnull=True)
                | Q(latitude__isnull=False, longitude__isnull=False),
                name="depot_lies_by_both_degrees",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class WorkTime(models.Model):
    """How long one kind of work takes an organisation, and who of it can do it."""

    organisation = models.ForeignKey(
        Organisation, on_delete=models.CASCADE, related_name="work_times"
    )
    kind = models.CharField(max_length=24)
    minutes = models.PositiveIntegerField(
        validators=[MinValueValidator(5), MaxValueValidator(1440)]
    )
    minutes_per_m3 = models.FloatField(
        default=0, validators=[MinValueValidator(0), MaxValueValidator(600)]
    )
    skills = models.CharField(max_length=200, blank=True)
    impairs = models.BooleanField(default=False)

    class Meta:
        ordering = ["kind"]
        constraints = [
            models.UniqueConstraint(
                fields=["organisation", "kind"], name="one_work_time_per_organisation_and_kind"
            )
        ]

    def __str__(self) -> str:
        return f"{self.kind}: {self.minutes} min"


class PlanningPolicy(models.Model):
    """How one organisation counts driving, breaks and gas; without a row by what is assumed."""

    organisation = models.OneToOneField(
        Organisation, on_delete=models.CASCADE, related_name="planning_policy"
    )
    metres_per_minute = models.PositiveIntegerField(
        default=700, validators=[MinValueValidator(50), MaxValueValidator(2500)]
    )
    detour_percent = models.PositiveIntegerField(
        default=130, validators=[MinValueValidator(100), MaxValueValidator(400)]
    )
    minutes_unplaced = models.PositiveIntegerField(default=20, validators=[MaxValueValidator(300)])
    drive_cost = models.PositiveIntegerField(default=2, validators=[MaxValueValidator(1000)])
    overtime_cost = models.PositiveIntegerField(default=6, validators=[MaxValueValidator(1000)])
    move_cost = models.PositiveIntegerField(default=100, validators=[MaxValueValidator(100_000)])
    break_minutes = models.PositiveIntegerField(default=30, validators=[MaxValueValidator(120)])
    break_from = models.TimeField(default=time(11))
    break_to = models.TimeField(default=time(13, 30))
    restock_minutes = models.PositiveIntegerField(default=20, validators=[MaxValueValidator(240)])
    cylinder = models.CharField(max_length=20, default="large")

    def __str__(self) -> str:
        return f"Planning of {self.organisation}"


class Place(models.Model):
    """Where a site lies and when it may be worked at; a building may have hours of its own."""

    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="places")
    building = models.ForeignKey(
        Building, on_delete=models.CASCADE, null=True, blank=True, related_name="places"
    )
    latitude = models.FloatField(null=True, blank=True, validators=DEGREES_NORTH)
    longitude = models.FloatField(null=True, blank=True, validators=DEGREES_EAST)
    hours = models.CharField(max_length=HOURS_LENGTH, blank=True)
    changed_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    changed_at = models.DateTimeField()

    class Meta:
        ordering = ["site", "building"]
        constraints = [
            models.UniqueConstraint(
                fields=["site"], condition=Q(building__isnull=True), name="one_place_per_site"
            ),
            models.UniqueConstraint(fields=["building"], name="one_place_per_building"),
            models.CheckConstraint(
                condition=Q(latitude__isnull=True, longitude__isnull=True)
                | Q(latitude__isnull=False, longitude__isnull=False),
                name="place_lies_by_both_degrees",
            ),
        ]

    def __str__(self) -> str:
        return str(self.building or self.site)

    @property
    def geo_uri(self) -> str:
        """RFC 5870: opens a map program where there is one."""
        return f"geo:{self.latitude:.6f},{self.longitude:.6f}"


class WeekPlan(models.Model):
    """The plan of an organisation's week: asked for by a row, filled by a job as it betters it.

    `document` is the plan so far, as `scheduling.planning.weeks.proposing` makes it; `turn` is
    raised whenever the plan is asked for, so that a job that was overtaken writes nothing any more.
    """

    class State(models.TextChoices):
        ASKED = "asked", _("Asked for")
        RUNNING = "running", _("Under way")
        DONE = "done", _("Done")
        FAILED = "failed", _("Failed")

    organisation = models.ForeignKey(
        Organisation, on_delete=models.CASCADE, related_name="week_plans"
    )
    first_on = models.DateField()
    state = models.CharField(max_length=8, choices=State, default=State.ASKED)
    turn = models.PositiveIntegerField(default=1)
    asked_at = models.DateTimeField()
    asked_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    document = models.JSONField(default=dict, blank=True)
    value = models.IntegerField(null=True, blank=True)
    bound = models.IntegerField(null=True, blank=True)
    said_at = models.DateTimeField(null=True, blank=True)
    problem = models.CharField(max_length=500, blank=True)

    class Meta:
        ordering = ["-first_on", "organisation"]
        constraints = [
            models.UniqueConstraint(
                fields=["organisation", "first_on"], name="one_plan_per_organisation_and_week"
            )
        ]

    def __str__(self) -> str:
        return f"Plan of {self.organisation} from {self.first_on}"

    @property
    def is_open(self) -> bool:
        return self.state in (self.State.ASKED, self.State.RUNNING)
