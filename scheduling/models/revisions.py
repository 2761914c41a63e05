from django.db import models

from registry.models import System


class Revision(models.Model):
    """What calendars were last shown of a thing that keeps no revision of its own: an occurrence
    of recurring work, the rhythm it follows, an impairment. A follow-up keeps its own."""

    uid = models.UUIDField(primary_key=True, editable=False)
    sequence = models.PositiveIntegerField(default=0)
    slot_digest = models.CharField(max_length=64, blank=True)
    text_digest = models.CharField(max_length=64, blank=True)
    created_at = models.DateTimeField()
    modified_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.uid}, revision {self.sequence}"


class CalendarTurn(models.Model):
    """Counts the changes of revisions of a system: where all that an entry is made of is as it was
    once, its revision is another one if somebody read it in between, and so is this."""

    system = models.OneToOneField(
        System, on_delete=models.CASCADE, primary_key=True, related_name="calendar_turn"
    )
    turn = models.PositiveIntegerField(default=0)

    def __str__(self) -> str:
        return f"{self.system_id}, turn {self.turn}"
