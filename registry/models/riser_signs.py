import uuid

from django.db import models
from django.db.models import Q

from registry.kinds.events import TOLD
from registry.models.people import Organisation, User
from registry.models.querysets import ThroughSystemQuerySet
from registry.models.records import Record
from registry.models.sites import Site
from registry.models.systems import System
from registry.translation import _


class SignSettings(models.Model):
    """What the signs of a site say beside the register: languages, and who is called."""

    class Languages(models.TextChoices):
        EN = "en", _("English")
        EN_ES = "en es", _("English and Spanish")

    site = models.OneToOneField(
        Site, on_delete=models.CASCADE, primary_key=True, related_name="sign_settings"
    )
    languages = models.CharField(
        _("languages of the signs"), max_length=20, choices=Languages, default=Languages.EN
    )
    owner_telephone = models.CharField(_("telephone of the owner"), max_length=40, blank=True)
    contractor_telephone = models.CharField(
        _("telephone of the contractor"), max_length=40, blank=True
    )
    contractor = models.ForeignKey(  # whose telephone it is: another one has another
        Organisation, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )

    def __str__(self) -> str:
        return f"Signs of {self.site}"

    @classmethod
    def of(cls, site: Site) -> "SignSettings":
        return cls.objects.filter(pk=site.pk).first() or cls(site=site)


class RiserSignQuerySet(ThroughSystemQuerySet):
    def live(self):
        return self.filter(ended_at__isnull=True)


class RiserSign(models.Model):
    """One sign as it was printed. Its code holds a secret of which only the digest is kept;
    `content` is the digest of what was printed, by which the wall is known to be out of date."""

    system = models.ForeignKey(System, on_delete=models.CASCADE, related_name="riser_signs")
    digest = models.CharField(max_length=64, unique=True, editable=False)
    content = models.CharField(max_length=64, editable=False)
    made_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()
    from_sequence = models.PositiveIntegerField()  # the last record it was made from
    put_up_at = models.DateTimeField(null=True, blank=True)
    put_up_by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    ended_at = models.DateTimeField(null=True, blank=True)

    objects = RiserSignQuerySet.as_manager()

    class Meta:
        ordering = ["-made_at", "-pk"]

    def __str__(self) -> str:
        return f"Sign of {self.system}, {self.made_at:%Y-%m-%d}"


class SignUse(models.Model):
    """How often a sign's code, or one machine, asked in an hour; kept in the database, so that
    every process counts alike without a cache beside them."""

    key = models.CharField(max_length=80)
    hour = models.DateTimeField()
    count = models.PositiveIntegerField(default=0)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["key", "hour"], name="one_count_per_key_and_hour")
        ]

    def __str__(self) -> str:
        return f"{self.key}, {self.hour:%Y-%m-%d %H}: {self.count}"


class Telling(models.Model):
    """What somebody at the sign typed, kept outside the ledger, which holds a salted digest of it:
    so it can be erased on request, and the gap shows. Several may belong to one record."""

    record = models.ForeignKey(Record, on_delete=models.PROTECT, related_name="tellings")
    sign = models.ForeignKey(RiserSign, on_delete=models.PROTECT, related_name="tellings")
    what = models.CharField(max_length=20)
    words = models.TextField(blank=True)
    contact = models.CharField(max_length=120, blank=True)
    salt = models.CharField(max_length=64, blank=True, editable=False)
    sha256 = models.CharField(max_length=64, blank=True, editable=False)
    client_key = models.UUIDField(default=uuid.uuid4, editable=False)
    told_at = models.DateTimeField()
    erased_at = models.DateTimeField(null=True, blank=True)
    erased_by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ["told_at", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(erased_at__isnull=True) | Q(words="", contact="", salt=""),
                name="erased_telling_holds_nothing",
            ),
            models.UniqueConstraint(fields=["sign", "client_key"], name="one_telling_per_key"),
        ]

    def __str__(self) -> str:
        return f"{self.what}, told {self.told_at:%Y-%m-%d %H:%M}"

    @property
    def is_erased(self) -> bool:
        return self.erased_at is not None

    @property
    def has_words(self) -> bool:
        return bool(self.words or self.contact)

    @property
    def has_own_record(self) -> bool:
        """Or it was added to one that waited for an answer already."""
        return self.record.client_key == self.client_key

    @property
    def can_be_erased(self) -> bool:
        """Something was typed, or sent with it, and is still there."""
        photos = self.record.attachments.filter(erased_at__isnull=True)
        return self.has_words or (self.has_own_record and photos.exists())

    @property
    def what_words(self) -> str:
        return dict(TOLD.fields[0].choices).get(self.what, self.what)
