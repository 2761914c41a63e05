from django.db import models
from django.urls import reverse

from registry.kinds.events import IMPAIRMENT_ANSWERS
from registry.models.records import Record
from registry.models.systems import System
from registry.protection.safety import PLANNED
from registry.translation import _
from registry.words.told.retelling import retold
from registry.words.unanswered import unanswered_words

REASON_LENGTH, AREAS_LENGTH = 600, 400


class ProtectionSpan(models.Model):
    """Derived from the ledger, and rewritten where the ledger tells it otherwise.

    It lasts until the next one of its system starts. Time alone changes nothing.
    """

    class State(models.TextChoices):
        IN_SERVICE = "in_service", _("In service")
        IMPAIRED = "impaired", _("Impaired")
        NOT_KNOWN = "not_known", _("Not known")

    system = models.ForeignKey(System, on_delete=models.CASCADE, related_name="protection_spans")
    starts_at = models.DateTimeField()
    state = models.CharField(max_length=10, choices=State)
    state_since = models.DateTimeField(help_text=_("A new span need not be a change of state."))
    reason_code = models.CharField(max_length=60)
    reason = models.CharField(max_length=REASON_LENGTH)
    areas = models.CharField(max_length=AREAS_LENGTH, blank=True)
    is_planned = models.BooleanField(default=False)
    unanswered = models.CharField(max_length=60, blank=True)  # codes of `protection.safety`
    cause = models.ForeignKey(
        Record, on_delete=models.PROTECT, null=True, blank=True, related_name="protection_spans"
    )

    class Meta:
        ordering = ["system", "starts_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["system", "starts_at"], name="one_protection_span_per_instant"
            )
        ]

    def __str__(self) -> str:
        return f"{self.system_id} {self.state} from {self.starts_at:%Y-%m-%d %H:%M}"

    @property
    def is_impaired(self) -> bool:
        return self.state == self.State.IMPAIRED

    @property
    def not_known_words(self) -> str:
        return unanswered_words(self.unanswered)

    @property
    def answers_url(self) -> str:
        """Where what nobody has said is answered."""
        return reverse("registry:record-new", args=[self.system_id, IMPAIRMENT_ANSWERS.code])

    @property
    def in_words(self) -> str:
        """State, reason, and what nobody has said."""
        state = self.get_state_display()
        return f"{state}. {retold(self.reason)} {self.not_known_words}".rstrip()

    @property
    def kind_words(self) -> str:
        """Planned ahead or an emergency, of an impairment, as far as somebody said."""
        if not self.is_impaired or PLANNED in self.unanswered.split():
            return ""
        return str(_("Planned.") if self.is_planned else _("An emergency."))
