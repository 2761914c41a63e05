import uuid

from django.db import models
from django.urls import reverse

from registry.kinds import KINDS, Kind
from registry.kinds.facts import WITHDRAWN
from registry.models.people import User
from registry.models.querysets import RecordQuerySet
from registry.models.systems import System


class Record(models.Model):
    """One line of a system's ledger: never changed, chained by hash to the one before."""

    system = models.ForeignKey(System, on_delete=models.PROTECT, related_name="records")
    sequence = models.PositiveIntegerField()
    uuid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    kind = models.CharField(max_length=40)  # a code of registry.kinds; new kinds need no migration
    occurred_at = models.DateTimeField(db_index=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="records")
    details = models.JSONField(default=dict)
    note = models.TextField(blank=True)
    supersedes = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="superseded_by"
    )
    inerting_run = models.ForeignKey(
        "registry.InertingRun",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="records",
    )
    client_key = models.UUIDField(null=True, blank=True)
    previous_hash = models.CharField(max_length=64, blank=True)
    hash = models.CharField(max_length=64)

    objects = RecordQuerySet.as_manager()

    class Meta:
        ordering = ["system", "sequence"]
        constraints = [
            models.UniqueConstraint(fields=["system", "sequence"], name="one_record_per_sequence"),
            models.UniqueConstraint(fields=["system", "client_key"], name="one_record_per_key"),
        ]
        indexes = [models.Index(fields=["system", "occurred_at"])]

    def __str__(self) -> str:
        return f"{self.system_id} #{self.sequence} {self.kind}"

    def get_absolute_url(self) -> str:
        return reverse("registry:record", args=[self.pk])

    @property
    def definition(self) -> Kind:
        return KINDS[self.kind]

    @property
    def is_superseded(self) -> bool:
        return hasattr(self, "superseded_by")

    @property
    def is_step_of_run(self) -> bool:
        return self.inerting_run_id is not None and self.definition.group == "inerting"

    @property
    def is_withdrawal(self) -> bool:
        return self.kind == WITHDRAWN.code

    @property
    def is_correctable(self) -> bool:
        return not self.is_superseded and self.definition.is_entered_by_hand
