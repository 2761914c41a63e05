import uuid
from pathlib import Path

from django.db import models
from django.urls import reverse

from registry.models.people import Organisation, User
from registry.models.querysets import OwnedQuerySet


def import_path(batch: "ImportBatch", name: str) -> str:
    """A name of our own: what the person called the file is kept beside it and is never a path."""
    suffix = ".xlsx" if name.lower().endswith(".xlsx") else ".csv"
    return f"imports/{uuid.uuid4().hex}{suffix}"


class ImportBatch(models.Model):
    """One uploaded register: what was found in it, what was answered, how far its loading is."""

    class State(models.TextChoices):
        CHECK_WAITING = "check_waiting", "Waiting to be read"
        CHECKING = "checking", "Being read"
        CHECKED = "checked", "Read; nothing is loaded yet"
        LOAD_WAITING = "load_waiting", "Waiting to be loaded"
        LOADING = "loading", "Being loaded"
        LOADED = "loaded", "Loaded"
        FAILED = "failed", "Could not be read"

    WAITING = (State.CHECK_WAITING, State.LOAD_WAITING)
    RUNNING = (State.CHECKING, State.LOADING)

    owner = models.ForeignKey(Organisation, on_delete=models.PROTECT, related_name="imports")
    uploaded_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="imports")
    uploaded_at = models.DateTimeField()
    loaded_by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="loaded_imports"
    )
    file = models.FileField(upload_to=import_path)
    file_name = models.CharField(max_length=200)
    mend_file = models.FileField(upload_to=import_path, blank=True)
    state = models.CharField(max_length=16, choices=State, default=State.CHECK_WAITING)
    answers = models.JSONField(default=dict)
    outcome = models.JSONField(default=dict)
    error = models.TextField(blank=True)
    rows_total = models.PositiveIntegerField(default=0)
    rows_read = models.PositiveIntegerField(default=0)
    heartbeat_at = models.DateTimeField(null=True, blank=True)
    load_started_at = models.DateTimeField(null=True, blank=True)

    objects = OwnedQuerySet.as_manager()

    class Meta:
        ordering = ["-uploaded_at"]
        verbose_name_plural = "import batches"

    def __str__(self) -> str:
        return f"{self.file_name} for {self.owner}"

    def get_absolute_url(self) -> str:
        return reverse("registry:import", args=[self.pk])

    @property
    def is_under_way(self) -> bool:
        return self.state in (*self.WAITING, *self.RUNNING)

    @property
    def is_loadable(self) -> bool:
        return self.state == self.State.CHECKED and bool(self.outcome.get("new"))

    @property
    def percent_read(self) -> int:
        """Every row is read twice: once to plan, once to judge."""
        return min(100, 50 * self.rows_read // self.rows_total) if self.rows_total else 0

    @property
    def mend_name(self) -> str:
        return f"{Path(self.file_name).stem}-rows-to-mend.csv"
