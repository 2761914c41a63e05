import uuid

from django.db import models

from registry.models.people import User


class HeldFile(models.Model):
    """A file chosen in a form that came back with an error: kept for the person who chose it until
    the form is sent again, and for a day at the most. It is of no record."""

    uuid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    person = models.ForeignKey(User, on_delete=models.CASCADE, related_name="held_files")
    name = models.CharField(max_length=120)
    content_type = models.CharField(max_length=40)
    size = models.PositiveIntegerField()
    stored_as = models.CharField(max_length=120, unique=True, editable=False)
    held_at = models.DateTimeField(db_index=True)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return self.name
