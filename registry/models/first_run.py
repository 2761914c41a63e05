from django.db import models


class FirstCode(models.Model):
    """The one-time code of an empty book. Only its digest is kept, and it goes with its use."""

    digest = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"Code of {self.made_at:%Y-%m-%d %H:%M}"
