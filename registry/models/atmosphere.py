from django.db import models

from registry.models.records import Record
from registry.models.systems import System
from registry.translation import _


class AtmosphereSpan(models.Model):
    """A stretch of time in one state, derived from the ledger and rewritten whenever it grows.

    A span that starts in the future is a change that time alone will bring.
    """

    class State(models.TextChoices):
        INERT = "inert", _("Inert")
        IN_DOUBT = "in_doubt", _("In doubt")
        AERATED = "aerated", _("Aerated")

    system = models.ForeignKey(System, on_delete=models.CASCADE, related_name="spans")
    starts_at = models.DateTimeField()
    state = models.CharField(max_length=10, choices=State)
    state_since = models.DateTimeField(help_text=_("A new span need not be a change of state."))
    reason_code = models.CharField(max_length=60)
    reason = models.CharField(max_length=400)
    cause = models.ForeignKey(
        Record, on_delete=models.PROTECT, null=True, blank=True, related_name="spans"
    )
    oxygen_low = models.FloatField()
    oxygen_mid = models.FloatField()
    oxygen_high = models.FloatField()

    class Meta:
        ordering = ["system", "starts_at"]
        constraints = [
            models.UniqueConstraint(fields=["system", "starts_at"], name="one_span_per_instant")
        ]

    def __str__(self) -> str:
        return f"{self.system_id} {self.state} from {self.starts_at:%Y-%m-%d %H:%M}"
