import uuid
from pathlib import Path

from django.db import models
from django.urls import reverse

from registry.models.people import Organisation, User
from registry.models.querysets import OwnedQuerySet
from registry.models.systems import System
from registry.translation import _


def import_path(batch: "ImportBatch", name: str) -> str:
    """A name of our own: what the person called the file is kept beside it and is never a path."""
    suffix = ".xlsx" if name.lower().endswith(".xlsx") else ".csv"
    return f"imports/{uuid.uuid4().hex}{suffix}"


class ImportBatch(models.Model):
    """One uploaded register: what was found in it, what was answered, how far its loading is."""

    class State(models.TextChoices):
        CHECK_WAITING = "check_waiting", _("Waiting to be read")
        CHECKING = "checking", _("Being read")
        CHECKED = "checked", _("Read; nothing is loaded yet")
        LOAD_WAITING = "load_waiting", _("Waiting to be loaded")
        LOADING = "loading", _("Being loaded")
        LOADED = "loaded", _("Loaded")
        FAILED = "failed", _("Could not be read")
        TAKEN_BACK = "taken_back", _("Taken back")

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
    to_fix_file = models.FileField(upload_to=import_path, blank=True)
    state = models.CharField(max_length=16, choices=State, default=State.CHECK_WAITING)
    answers = models.JSONField(default=dict)
    outcome = models.JSONField(default=dict)
    error = models.TextField(blank=True)
    rows_total = models.PositiveIntegerField(default=0)
    rows_read = models.PositiveIntegerField(default=0)
    heartbeat_at = models.DateTimeField(null=True, blank=True)
    load_started_at = models.DateTimeField(null=True, blank=True)
    attempts = models.PositiveSmallIntegerField(default=0)  # of the present step
    taken_back_at = models.DateTimeField(null=True, blank=True)
    taken_back_by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="taken_back_imports"
    )

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
    def to_fix_name(self) -> str:
        return f"{Path(self.file_name).stem}-rows-to-fix.csv"


class ImportShape(models.Model):
    """What an owner answered for a file of these columns: proposed again for the next such file."""

    owner = models.ForeignKey(Organisation, on_delete=models.CASCADE, related_name="import_shapes")
    digest = models.CharField(max_length=32)
    headings = models.JSONField(default=list)
    file_name = models.CharField(max_length=200)
    answers = models.JSONField(default=dict)
    used_at = models.DateTimeField()

    objects = OwnedQuerySet.as_manager()

    class Meta:
        ordering = ["-used_at"]
        constraints = [
            models.UniqueConstraint(fields=["owner", "digest"], name="one_answer_per_shape")
        ]

    def __str__(self) -> str:
        return f"{self.file_name} of {self.owner}"


class RowToFix(models.Model):
    """A row of a loaded file that did not load: its system is incomplete until it is settled."""

    system = models.ForeignKey(System, on_delete=models.CASCADE, related_name="rows_to_fix")
    key = models.CharField(max_length=16)
    source = models.CharField("file", max_length=200)
    row = models.CharField(max_length=120)
    wrong = models.CharField(max_length=500)
    typed = models.JSONField(default=dict)
    found_at = models.DateTimeField()
    settled_at = models.DateTimeField(null=True, blank=True)
    settled_by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="settled_rows"
    )
    settled_note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["pk"]
        verbose_name_plural = "rows to fix"
        constraints = [models.UniqueConstraint(fields=["system", "key"], name="one_row_to_fix")]
        indexes = [
            models.Index(
                fields=["system"],
                condition=models.Q(settled_at__isnull=True),
                name="rows_to_fix_open",
            )
        ]

    def __str__(self) -> str:
        return f"{self.source}, row {self.row}: {self.wrong}"
