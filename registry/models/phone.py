"""Entries that were written on a phone first: what became of them in the book."""

from django.db import models

from registry.models.people import User
from registry.models.records import Record


class KeptEntry(models.Model):
    """An entry of a phone that was written: by its key and the fingerprint of what it said, so that
    sent twice it is written once, and with what its writer had seen of the ledger."""

    person = models.ForeignKey(User, on_delete=models.PROTECT, related_name="kept_entries")
    client_key = models.UUIDField()
    fingerprint = models.CharField(max_length=64)
    record = models.OneToOneField(Record, on_delete=models.PROTECT, related_name="kept_entry")
    held_s = models.FloatField(default=0.0)
    seen_sequence = models.PositiveIntegerField(null=True, blank=True)
    is_seen_here = models.BooleanField(default=True)
    unknown = models.JSONField(default=list)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["person", "client_key"], name="one_kept_entry_per_key")
        ]

    def __str__(self) -> str:
        return f"{self.record} from a phone"


class DiscardedEntry(models.Model):
    """An entry that its writer discarded at sign-out instead of sending it."""

    person = models.ForeignKey(User, on_delete=models.PROTECT, related_name="discarded_entries")
    what = models.CharField(max_length=500)
    made_at = models.DateTimeField()
    discarded_at = models.DateTimeField()

    class Meta:
        ordering = ["-discarded_at", "pk"]

    def __str__(self) -> str:
        return f"Discarded by {self.person}: {self.what}"
