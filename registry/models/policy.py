from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from registry.kinds.steps import MOST_POINTS
from registry.models.people import Organisation
from registry.runs.acceptance import USUAL_FALL_PA
from registry.translation import _


def default_confirming_days() -> list[int]:
    return [1, 30, 365]


class OwnerPolicy(models.Model):
    """An owner's limits for its own book; the defaults are common practice, no source."""

    owner = models.OneToOneField(Organisation, on_delete=models.CASCADE, related_name="policy")
    target_n2_percent = models.FloatField(
        default=98.0, validators=[MinValueValidator(80), MaxValueValidator(99.99)]
    )
    confirming_days = models.JSONField(default=default_confirming_days)
    confirming_repeat_days = models.PositiveIntegerField(default=365)
    acceptance_wait_minutes = models.PositiveIntegerField(
        _("wait between fill and reading"), default=0, validators=[MaxValueValidator(1440)]
    )
    acceptance_points = models.PositiveSmallIntegerField(
        _("points to be read at target"),
        default=1,
        validators=[MinValueValidator(1), MaxValueValidator(MOST_POINTS)],
    )
    acceptance_hold_minutes = models.PositiveIntegerField(
        _("pressure to be held for"), default=0, validators=[MaxValueValidator(1440)]
    )
    acceptance_hold_fall_pa = models.FloatField(
        _("with a fall of at most"),
        default=USUAL_FALL_PA,
        validators=[MinValueValidator(0), MaxValueValidator(100_000)],
    )
    order_within_days = models.PositiveIntegerField(default=14)
    confirm_within_days = models.PositiveIntegerField(default=7)

    def __str__(self) -> str:
        return f"Policy of {self.owner}"

    @classmethod
    def for_owner(cls, owner: Organisation) -> "OwnerPolicy":
        """The owner's policy, or an unsaved one with the defaults; read once per `owner`."""
        return getattr(owner, "policy", None) or cls(owner=owner)
