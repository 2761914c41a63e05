from django.db import models


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
