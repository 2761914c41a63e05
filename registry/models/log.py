"""The log of an owner's records: what number each has, and what was signed of it."""

from django.db import models

from registry.models.people import Organisation
from registry.models.records import Record
from registry.models.systems import System


class OwnerLog(models.Model):
    """One log for each owner. Its `origin` is chosen once and stands in every checkpoint."""

    owner = models.OneToOneField(Organisation, on_delete=models.PROTECT, related_name="log")
    origin = models.CharField(max_length=200, unique=True, editable=False)
    size = models.PositiveBigIntegerField(default=0, editable=False)

    def __str__(self) -> str:
        return self.origin


class LogKey(models.Model):
    """A key that signs a log; the last one made is in use. The seed is sealed with the secret of
    the installation, so that a copy of the database alone signs nothing."""

    log = models.ForeignKey(OwnerLog, on_delete=models.PROTECT, related_name="keys")
    vkey = models.CharField(max_length=300, unique=True, editable=False)
    sealed_seed = models.TextField(editable=False)
    made_at = models.DateTimeField()

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
    """A record's number in the log, and the hash that it had when it was numbered."""

    log = models.ForeignKey(OwnerLog, on_delete=models.PROTECT, related_name="leaves")
    number = models.PositiveBigIntegerField()
    record = models.OneToOneField(Record, on_delete=models.PROTECT, related_name="log_leaf")
    hash = models.CharField(max_length=64)

    class Meta:
        ordering = ["log", "number"]
        constraints = [
            models.UniqueConstraint(fields=["log", "number"], name="one_record_per_log_number")
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
