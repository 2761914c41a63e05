"""What the last check of the book against its records found."""

from django.db import models
from django.db.models import F, Q

from registry.models.people import Organisation
from registry.models.querysets import ThroughSystemQuerySet
from registry.models.systems import System


class VerdictQuerySet(ThroughSystemQuerySet):
    def against(self):
        return self.exclude(differences=[])


class Verdict(models.Model):
    """Of one system: how many of its records were held against all else, when, and what differed.
    No row: not checked yet."""

    system = models.OneToOneField(System, on_delete=models.CASCADE, related_name="verdict")
    checked_at = models.DateTimeField()
    records = models.PositiveIntegerField()
    differences = models.JSONField(default=list, blank=True)

    objects = VerdictQuerySet.as_manager()

    class Meta:
        ordering = ["system"]

    def __str__(self) -> str:
        return f"{self.system_id}: {len(self.differences)} differences"

    @property
    def holds(self) -> bool:
        return not self.differences

    @property
    def since(self) -> int:
        """How many records were written after the check."""
        return max(self.system.next_sequence - 1 - self.records, 0)

    def covers(self, sequence: int) -> bool:
        return sequence <= self.records


class OwnerVerdict(models.Model):
    """Of an owner's whole book and log. `failing_since` stays through one unbroken failure, so that
    the same is not told every night."""

    owner = models.OneToOneField(Organisation, on_delete=models.CASCADE, related_name="verdict")
    checked_at = models.DateTimeField()
    systems = models.PositiveIntegerField()
    records = models.PositiveIntegerField()
    differing_systems = models.PositiveIntegerField(default=0)
    log_differences = models.JSONField(default=list, blank=True)
    failing_since = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["owner"]
        constraints = [
            models.CheckConstraint(
                condition=Q(differing_systems__lte=F("systems")),
                name="differing_systems_are_among_those_checked",
            )
        ]

    def __str__(self) -> str:
        return f"{self.owner}: {self.differing_systems} of {self.systems} systems differ"

    @property
    def holds(self) -> bool:
        return not self.differing_systems and not self.log_differences
