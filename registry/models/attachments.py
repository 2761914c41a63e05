import hashlib
import uuid

from django.core.files import File
from django.core.files.storage import default_storage
from django.db import models
from django.urls import reverse

from registry.models.people import User
from registry.models.querysets import ThroughSystemQuerySet
from registry.models.records import Record
from registry.models.systems import System


class Attachment(models.Model):
    """A photo or document of a record. The file lies outside the web root under a name of the
    book's own; its type is what its first bytes say, and its digest is in the ledger."""

    system = models.ForeignKey(System, on_delete=models.PROTECT, related_name="attachments")
    record = models.ForeignKey(Record, on_delete=models.PROTECT, related_name="attachments")
    uuid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    name = models.CharField(max_length=120)
    content_type = models.CharField(max_length=40)
    size = models.PositiveIntegerField()
    sha256 = models.CharField(max_length=64)
    stored_as = models.CharField(max_length=120, unique=True, editable=False)
    uploaded_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="attachments")
    uploaded_at = models.DateTimeField()
    taken_back_by = models.ForeignKey(
        Record, on_delete=models.PROTECT, null=True, blank=True, related_name="took_back"
    )
    erased_at = models.DateTimeField(null=True, blank=True, editable=False)

    objects = ThroughSystemQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        db_table = "scheduling_attachment"  # where such files were kept first

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return reverse("registry:attachment", args=[self.uuid])

    @property
    def said(self) -> str:
        """As the ledger keeps it, so that a file put in its place would not go unseen."""
        return f"{self.name} {self.sha256}"

    @property
    def is_shown(self) -> bool:
        return self.erased_at is None and self.taken_back_by_id is None

    def open(self) -> File:
        return default_storage.open(self.stored_as, "rb")

    def is_intact(self) -> bool:
        """Whether the file is there and still is the one whose digest was recorded."""
        if not default_storage.exists(self.stored_as):
            return False
        with self.open() as file:
            return hashlib.file_digest(file, "sha256").hexdigest() == self.sha256
