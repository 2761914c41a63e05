from django.db import models

from registry.models import Organisation
from registry.translation import _


class PlanAsked(models.Model):
    """An owner whose recurring work is to be planned again, as far as that has come.

    The row is written with what asks for it and taken away when all is planned, so that neither a
    lost message nor a worker that died leaves a plan behind its library.
    """

    owner = models.OneToOneField(Organisation, on_delete=models.CASCADE, related_name="plan_asked")
    asked_at = models.DateTimeField()
    turn = models.PositiveIntegerField(default=0, help_text=_("Raised each time it is asked for."))
    planned_to = models.PositiveBigIntegerField(
        default=0, help_text=_("Systems up to this key are planned.")
    )

    class Meta:
        ordering = ["asked_at", "pk"]

    def __str__(self) -> str:
        return f"Plan of {self.owner}, asked for {self.asked_at:%Y-%m-%d %H:%M}"
