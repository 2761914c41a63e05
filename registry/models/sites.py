import zoneinfo
from datetime import datetime
from functools import cache

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext

from registry.corrosion.gas import site_atmosphere
from registry.models.people import Organisation
from registry.models.querysets import (
    OwnedQuerySet,
    SiteQuerySet,
    audit_in_force,
    contract_in_force,
)
from registry.translation import _


@cache
def _time_zones() -> set[str]:
    """Reading them walks through a folder of hundreds of files."""
    return zoneinfo.available_timezones()


def check_time_zone(name: str) -> None:
    if name not in _time_zones():
        raise ValidationError(
            gettext(
                "“{name}” is not a time zone of the IANA list; write for example Europe/London."
            ).format(name=name)
        )


class Site(models.Model):
    owner = models.ForeignKey(Organisation, on_delete=models.PROTECT, related_name="sites")
    name = models.CharField(max_length=150)
    address = models.TextField(blank=True)
    time_zone = models.CharField(
        max_length=64,
        default="UTC",
        validators=[check_time_zone],
        help_text=_("IANA name, for example America/Chicago; due dates follow it."),
    )
    altitude_m = models.FloatField(
        "altitude",
        default=0.0,
        validators=[MinValueValidator(-430), MaxValueValidator(6000)],
    )
    water_temperature_k = models.FloatField(
        _("supply water temperature"),
        default=288.15,
        validators=[MinValueValidator(273.15), MaxValueValidator(313.15)],
    )
    measured_dissolved_oxygen_mg_l = models.FloatField(
        _("measured dissolved oxygen of the supply"),
        null=True,
        blank=True,
        validators=[MinValueValidator(0), MaxValueValidator(30)],
    )

    objects = SiteQuerySet.as_manager()

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(fields=["owner", "name"], name="one_site_of_a_name_per_owner")
        ]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return reverse("registry:site", args=[self.pk])

    @property
    def zone(self) -> zoneinfo.ZoneInfo:
        return zoneinfo.ZoneInfo(self.time_zone)

    @property
    def atmosphere_pa(self) -> float:
        return float(site_atmosphere(self.altitude_m))

    def contractor_on(self, day) -> Organisation | None:
        contract = (
            self.service_contracts.in_force(day)
            .select_related("contractor")
            .order_by("-starts_on")
            .first()
        )
        return contract.contractor if contract else None


class Building(models.Model):
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="buildings")
    name = models.CharField(max_length=150)
    access_note = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(fields=["site", "name"], name="one_building_of_a_name_per_site")
        ]

    def __str__(self) -> str:
        return self.name


class ContractQuerySet(models.QuerySet):
    def in_force_at(self, now):
        """Each by the clock at its own site."""
        return self.filter(contract_in_force(now, "", "site__time_zone"))

    def in_force(self, day):
        return self.filter(starts_on__lte=day).filter(
            models.Q(ends_on__isnull=True) | models.Q(ends_on__gte=day)
        )


class ServiceContract(models.Model):
    """Which contractor serves which site, and when."""

    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="service_contracts")
    contractor = models.ForeignKey(
        Organisation,
        on_delete=models.PROTECT,
        related_name="service_contracts",
        limit_choices_to={"kind": Organisation.Kind.CONTRACTOR},
    )
    starts_on = models.DateField()
    ends_on = models.DateField(null=True, blank=True)

    objects = ContractQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(ends_on__isnull=True)
                | models.Q(ends_on__gte=models.F("starts_on")),
                name="contract_ends_after_it_starts",
            )
        ]

    def __str__(self) -> str:
        return f"{self.contractor} serves {self.site}"


class AuditAccessQuerySet(OwnedQuerySet):
    def in_force(self, now: datetime):
        return self.filter(audit_in_force(now))

    def of(self, user):
        """What lets this person read now."""
        return self.in_force(timezone.now()).filter(auditor__memberships__user=user)


class AuditAccess(models.Model):
    """An owner lets an auditor's people read its book: to an end, and of chosen sites or a chosen
    period where it says so. The period is of records: what happened in it is read and taken away;
    the state of a system is always that of today, derived from all of them."""

    owner = models.ForeignKey(
        Organisation, on_delete=models.CASCADE, related_name="audit_access_given"
    )
    auditor = models.ForeignKey(
        Organisation, on_delete=models.CASCADE, related_name="audit_access_held"
    )
    ends_on = models.DateField(
        _("last day"), null=True, blank=True, help_text=_("It ends with that day, by UTC.")
    )
    has_all_sites = models.BooleanField(_("all sites"), default=True)
    sites = models.ManyToManyField(Site, blank=True, related_name="audit_access")
    happened_from = models.DateTimeField(null=True, blank=True)
    happened_before = models.DateTimeField(null=True, blank=True)

    objects = AuditAccessQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["owner", "auditor"], name="one_audit_access_per_pair"),
            models.CheckConstraint(
                condition=models.Q(happened_from__isnull=True)
                | models.Q(happened_before__isnull=True)
                | models.Q(happened_from__lt=models.F("happened_before")),
                name="audited_period_ends_after_it_begins",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.auditor} may read {self.owner}"

    @property
    def has_period(self) -> bool:
        return bool(self.happened_from or self.happened_before)

    def covers(self, when: datetime) -> bool:
        """Whether what happened then is within the period."""
        return (self.happened_from is None or when >= self.happened_from) and (
            self.happened_before is None or when < self.happened_before
        )
