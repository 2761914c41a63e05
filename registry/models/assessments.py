from django.db import models
from django.db.models import F, Q

from registry.models.querysets import ThroughSystemQuerySet
from registry.models.systems import System
from registry.translation import _

LEAST_WEEKLY_POINTS, LEAST_WEEKLY_UM = 0.005, 0.005


def is_worth_telling(points_per_week: float | None, um_per_week: float | None) -> bool:
    """Whether the cost of waiting is more than nothing as a page would print it."""
    if points_per_week is None or um_per_week is None:
        return False
    return abs(points_per_week) >= LEAST_WEEKLY_POINTS or um_per_week >= LEAST_WEEKLY_UM


class AssessmentQuerySet(ThroughSystemQuerySet):
    def latest(self):
        return self.filter(is_latest=True)


class Assessment(models.Model):
    """What the corrosion model made of a system at the end of a day; old ones are kept."""

    class Basis(models.TextChoices):
        LEDGER = "ledger", _("Oxygen ledger and field evidence")
        EVIDENCE = "evidence", _("Field evidence only: the pipe is outside the oxygen model")
        NONE = "none", _("Outside the oxygen model, and no field evidence")

    class Band(models.TextChoices):
        """What to do, by the score."""

        LEAVE = "leave", _("Leave")
        WATCH = "watch", _("Watch")
        PLAN = "plan", _("Plan")
        ACT = "act", _("Act")

    system = models.ForeignKey(System, on_delete=models.CASCADE, related_name="assessments")
    model_version = models.CharField(max_length=12)
    as_of = models.DateField(help_text=_("Assessed as at the end of this day, UTC."))
    assessed_at = models.DateTimeField()
    is_latest = models.BooleanField(default=True)
    digest = models.CharField(max_length=64, help_text=_("Of what went in, time apart."))
    basis = models.CharField(max_length=8, choices=Basis)
    score = models.FloatField(null=True)
    band = models.CharField(max_length=8, choices=Band, blank=True)
    likelihood = models.PositiveSmallIntegerField(null=True)
    leak_in_1_yr = models.FloatField(null=True)
    leak_in_5_yr = models.FloatField(null=True)
    leak_in_10_yr = models.FloatField(null=True)
    hazard_5_yr = models.FloatField(null=True)
    life_low_yr = models.FloatField(null=True)
    life_mid_yr = models.FloatField(null=True)
    life_high_yr = models.FloatField(null=True)
    delay_points_per_week = models.FloatField(null=True)
    delay_um_per_week = models.FloatField(null=True)
    reasons = models.JSONField(default=list)
    runs = models.JSONField(default=list)
    evidence = models.JSONField(default=dict)

    objects = AssessmentQuerySet.as_manager()

    class Meta:
        ordering = ["system", "-as_of", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["system"],
                condition=Q(is_latest=True),
                name="one_latest_assessment_per_system",
            ),
            models.CheckConstraint(
                condition=Q(score__isnull=True) | Q(score__gte=0, score__lte=100),
                name="score_from_0_to_100",
            ),
            models.CheckConstraint(
                condition=Q(basis="none", score__isnull=True, band="")
                | ~Q(basis="none") & Q(score__isnull=False) & ~Q(band=""),
                name="a_score_unless_nothing_is_known",
            ),
            models.CheckConstraint(
                condition=Q(leak_in_1_yr__isnull=True)
                | Q(leak_in_1_yr__gte=0, leak_in_10_yr__lte=1)
                & Q(leak_in_1_yr__lte=F("leak_in_5_yr"))
                & Q(leak_in_5_yr__lte=F("leak_in_10_yr")),
                name="leak_probabilities_grow_with_time",
            ),
        ]
        indexes = [
            models.Index(fields=["system", "as_of"]),
            models.Index(
                fields=["-score", "system"],
                condition=Q(is_latest=True),
                name="latest_by_score",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.system_id} {self.as_of}: {self.score} {self.band}"

    @property
    def is_worth_telling_delay(self) -> bool:
        """Waiting costs an inert system nothing that could be shown, so nothing is said of it."""
        points, depth = self.delay_points_per_week, self.delay_um_per_week
        return is_worth_telling(points, depth)
