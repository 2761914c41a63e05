"""The log of an owner's records: what number each has, and what was signed of it."""

from django.db import models

from registry.models.owner_ledger import OwnerRecord
from registry.models.people import Organisation
from registry.models.records import Record
from registry.models.systems import System
from registry.translation import _


class OwnerLog(models.Model):
    """One log for each owner. Its `origin` is chosen once and stands in every checkpoint."""

    owner = models.OneToOneField(Organisation, on_delete=models.PROTECT, related_name="log")
    origin = models.CharField(max_length=200, unique=True, editable=False)
    size = models.PositiveBigIntegerField(default=0, editable=False)
    owner_records = models.PositiveIntegerField(default=0, editable=False)  # of its own ledger

    def __str__(self) -> str:
        return self.origin


class LogKey(models.Model):
    """A key that signs a log; the last one made is in use. The seed is sealed with the secret of
    the installation, so that a copy of the database alone signs nothing. `note`, signed by the key
    before it and by this one, says from which size of the log on it signs, and why."""

    class Reason(models.TextChoices):
        FIRST = "first", _("The first key")
        ROTATED = "rotated", _("Another key in place of the one before")
        RESTORED = "restored", _("The book was restored from a backup: a new epoch of the log")

    log = models.ForeignKey(OwnerLog, on_delete=models.PROTECT, related_name="keys")
    vkey = models.CharField(max_length=300, unique=True, editable=False)
    sealed_seed = models.TextField(editable=False)
    made_at = models.DateTimeField()
    reason = models.CharField(max_length=8, choices=Reason, default=Reason.FIRST)
    size = models.PositiveBigIntegerField(default=0, editable=False)
    note = models.TextField(blank=True, editable=False)

    class Meta:
        ordering = ["log", "pk"]

    def __str__(self) -> str:
        return self.vkey


class LoggedSystem(models.Model):
    """How many of a system's records are in the log, so that finding the rest asks no record."""

    system = models.OneToOneField(System, on_delete=models.PROTECT, related_name="logged")
    count = models.PositiveIntegerField()

    def __str__(self) -> str:
        return f"{self.count} records of {self.system_id} in the log"


class LogLeaf(models.Model):
    """A record's number in the log, and the hash that it had when it was numbered: a record of a
    system, or one of the owner's own ledger."""

    log = models.ForeignKey(OwnerLog, on_delete=models.PROTECT, related_name="leaves")
    number = models.PositiveBigIntegerField()
    record = models.OneToOneField(
        Record, on_delete=models.PROTECT, null=True, related_name="log_leaf"
    )
    owner_record = models.OneToOneField(
        OwnerRecord, on_delete=models.PROTECT, null=True, related_name="log_leaf"
    )
    hash = models.CharField(max_length=64)

    class Meta:
        ordering = ["log", "number"]
        constraints = [
            models.UniqueConstraint(fields=["log", "number"], name="one_record_per_log_number"),
            models.CheckConstraint(
                condition=models.Q(record__isnull=False, owner_record__isnull=True)
                | models.Q(record__isnull=True, owner_record__isnull=False),
                name="a_leaf_is_of_one_record",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.log_id} #{self.number}"


class LogNode(models.Model):
    """The hash of a full subtree of the log; small ones are worked out from their leaves."""

    log = models.ForeignKey(OwnerLog, on_delete=models.PROTECT, related_name="nodes")
    level = models.PositiveSmallIntegerField()
    number = models.PositiveBigIntegerField()
    hash = models.CharField(max_length=64)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["log", "level", "number"], name="one_node_per_place")
        ]

    def __str__(self) -> str:
        return f"{self.log_id} {self.level}/{self.number}"


class LogCheckpoint(models.Model):
    """What was signed of a log at a size, as it was given out."""

    log = models.ForeignKey(OwnerLog, on_delete=models.PROTECT, related_name="checkpoints")
    size = models.PositiveBigIntegerField()
    note = models.TextField()
    made_at = models.DateTimeField()

    class Meta:
        ordering = ["log", "size"]
        constraints = [
            models.UniqueConstraint(fields=["log", "size"], name="one_checkpoint_per_size")
        ]

    def __str__(self) -> str:
        return f"{self.log_id} at {self.size}"


class LogWitness(models.Model):
    """A machine of somebody else that cosigns the checkpoints of a log; `size` is of the last one
    that it did."""

    log = models.ForeignKey(OwnerLog, on_delete=models.PROTECT, related_name="witnesses")
    url = models.URLField(max_length=300)
    vkey = models.CharField(max_length=300)
    size = models.PositiveBigIntegerField(default=0, editable=False)
    asked_at = models.DateTimeField(null=True, blank=True)
    error = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["log", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["log", "vkey"], name="one_place_per_witness")
        ]

    def __str__(self) -> str:
        return f"{self.vkey.partition('+')[0]} for {self.log}"
