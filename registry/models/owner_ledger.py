"""What was decided about an owner's book, chained like the ledgers of its systems."""

import uuid

from django.db import models

from registry.models.people import Organisation, User
from registry.translation import _


class OwnerLedger(models.Model):
    """Begun when it is asked for first; of the time before, it says that it is not on record."""

    owner = models.OneToOneField(Organisation, on_delete=models.PROTECT, related_name="ledger")
    next_sequence = models.PositiveIntegerField(default=1, editable=False)
    head_hash = models.CharField(max_length=64, blank=True, editable=False)

    def __str__(self) -> str:
        return f"Ledger of {self.owner}"


class OwnerRecord(models.Model):
    """One fact as it stands from now on. `key` names the row it is about for good: names change.
    Nobody in `recorded_by`: the book found it so when the ledger began."""

    class Change(models.TextChoices):
        BEGUN = "begun", _("The ledger begins")
        ENTERED = "entered", _("Entered")
        CHANGED = "changed", _("Changed")
        REMOVED = "removed", _("Taken away")

    ledger = models.ForeignKey(OwnerLedger, on_delete=models.PROTECT, related_name="records")
    sequence = models.PositiveIntegerField()
    uuid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    subject = models.CharField(max_length=20)
    key = models.CharField(max_length=200)
    change = models.CharField(max_length=8, choices=Change)
    facts = models.JSONField(default=dict)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    previous_hash = models.CharField(max_length=64, blank=True)
    hash = models.CharField(max_length=64)

    class Meta:
        ordering = ["ledger", "sequence"]
        constraints = [
            models.UniqueConstraint(
                fields=["ledger", "sequence"], name="one_owner_record_per_sequence"
            )
        ]

    def __str__(self) -> str:
        return f"{self.ledger_id} #{self.sequence} {self.subject} {self.change}"
