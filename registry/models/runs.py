import uuid

from django.db import models
from django.urls import reverse

from registry.models.people import User
from registry.models.querysets import InertingRunQuerySet
from registry.models.systems import System
from registry.translation import _


class InertingRun(models.Model):
    """One attempt to make a system inert: its plan, kept as it was made, and where it stands.

    What was done is in the ledger (records of kind `inerting.*`); `status` follows from them.
    """

    class Status(models.TextChoices):
        OPEN = "open", _("Under way")
        ACCEPTED = "accepted", _("Reading accepted")
        RETURNED = "returned", _("Back in service")
        STOPPED = "stopped", _("Stopped")

    system = models.ForeignKey(System, on_delete=models.PROTECT, related_name="inerting_runs")
    uuid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    opened_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="inerting_runs")
    opened_at = models.DateTimeField()
    plan = models.JSONField(default=dict)
    target_n2_percent = models.FloatField()
    feed_n2_percent = models.FloatField()
    fill_pressure_gauge_pa = models.FloatField()
    start_n2_percent = models.FloatField()
    volume_m3 = models.FloatField()
    temperature_k = models.FloatField(default=294.25)
    analyser = models.CharField(_("gas analyser"), max_length=120, blank=True)
    analyser_calibrated_on = models.DateField(_("analyser calibrated"), null=True, blank=True)
    status = models.CharField(max_length=10, choices=Status, default=Status.OPEN)
    client_key = models.UUIDField(null=True, blank=True)

    objects = InertingRunQuerySet.as_manager()

    class Meta:
        ordering = ["-opened_at"]
        constraints = [
            models.UniqueConstraint(fields=["system", "client_key"], name="one_run_per_key"),
            models.UniqueConstraint(
                fields=["system"],
                condition=models.Q(status__in=["open", "accepted"]),
                name="one_unfinished_run_per_system",
            ),
        ]

    def __str__(self) -> str:
        return f"Inerting run of {self.system} begun {self.opened_at:%Y-%m-%d}"

    def get_absolute_url(self) -> str:
        return reverse("registry:run", args=[self.pk])

    @property
    def is_unfinished(self) -> bool:
        return self.status in (self.Status.OPEN, self.Status.ACCEPTED)
