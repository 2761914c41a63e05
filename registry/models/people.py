import uuid
from typing import TYPE_CHECKING

from django.contrib.auth.models import AbstractBaseUser, BaseUserManager, PermissionsMixin
from django.db import models

from registry.translation import _

if TYPE_CHECKING:
    from registry.models.sites import AuditAccess


class UserManager(BaseUserManager["User"]):
    def create_user(self, email: str, password: str | None = None, **extra) -> "User":
        user = self.model(email=self.normalize_email(email).lower(), **extra)
        user.set_password(password)
        user.save()
        return user

    def create_superuser(self, email: str, password: str | None = None, **extra) -> "User":
        return self.create_user(email, password, is_staff=True, is_superuser=True, **extra)

    def get_by_natural_key(self, username: str | None) -> "User":
        return self.get(email__iexact=username)


class User(AbstractBaseUser, PermissionsMixin):
    """A person who signs in by mail address; what they may do comes from their memberships."""

    class Units(models.TextChoices):
        US = "us", _("US customary (psi, ft, gal, °F)")
        SI = "si", _("SI (bar, m, L, °C)")

    uuid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    email = models.EmailField(_("e-mail address"), unique=True)
    name = models.CharField(max_length=150)
    display_units = models.CharField(
        _("units shown"), max_length=2, choices=Units, default=Units.US
    )
    language = models.CharField(
        _("language"),
        max_length=10,
        blank=True,
        help_text=_(
            "Of pages, papers, mail and calendar feeds. What is recorded stays as written."
        ),
    )
    is_active = models.BooleanField(default=True)
    is_staff = models.BooleanField(default=False)
    date_joined = models.DateTimeField(auto_now_add=True)
    audits_of_a_period: list["AuditAccess"] | None = None
    """Read once in each request, where access to records is asked about."""

    objects = UserManager()
    USERNAME_FIELD = "email"
    REQUIRED_FIELDS = ["name"]

    def __str__(self) -> str:
        return self.name or self.email

    def get_full_name(self) -> str:
        return str(self)

    def get_short_name(self) -> str:
        return str(self)


class Organisation(models.Model):
    class Kind(models.TextChoices):
        OWNER = "owner", _("Owner")
        CONTRACTOR = "contractor", _("Contractor")
        AUDITOR = "auditor", _("Auditor")

    name = models.CharField(max_length=150, unique=True)
    kind = models.CharField(max_length=10, choices=Kind)
    demands_second_step = models.BooleanField(
        _("asks all its people for a second step at sign-in"), default=False
    )
    people = models.ManyToManyField(User, through="Membership", related_name="organisations")

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name

    @property
    def usual_time_zone(self) -> str:
        """Where most of an owner's sites are; UTC before the first."""
        zones = self.sites.order_by().values_list("time_zone")
        found = zones.annotate(count=models.Count("pk")).order_by("-count", "time_zone").first()
        return found[0] if found else "UTC"


class Membership(models.Model):
    """What one person may do for one organisation."""

    class Role(models.TextChoices):
        MANAGER = "manager", _("Manager: sets up sites and systems, imports, records")
        RECORDER = "recorder", _("Recorder: logs events, readings and runs")
        READER = "reader", _("Reader: reads and exports")

    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="memberships")
    organisation = models.ForeignKey(
        Organisation, on_delete=models.CASCADE, related_name="memberships"
    )
    role = models.CharField(max_length=10, choices=Role, default=Role.READER)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["user", "organisation"], name="one_role_per_person_and_organisation"
            )
        ]

    def __str__(self) -> str:
        return f"{self.user} at {self.organisation} ({self.role})"
