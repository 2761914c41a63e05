import uuid
from dataclasses import dataclass
from datetime import date, datetime

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.urls import reverse

from registry.models.querysets import SystemQuerySet
from registry.models.sites import Building, Site
from registry.quantities import PSI


class InstalledPrecision(models.TextChoices):
    """How exactly a day of installation is known; the day itself is the first of its span."""

    DAY = "day", "Day"
    MONTH = "month", "Month only"
    QUARTER = "quarter", "Quarter only"
    HALF = "half", "Half-year only"
    YEAR = "year", "Year only"
    DECADE = "decade", "Decade only"
    ABOUT = "about", "About that year"
    BEFORE = "before", "Before that year"


def installed_text(day: date, precision: str) -> str:
    """The day in words that claim no more than is known: “Q3 2011”, “about 1998”."""
    quarter = (day.month + 2) // 3
    return {
        InstalledPrecision.MONTH: f"{day:%B %Y}",
        InstalledPrecision.QUARTER: f"Q{quarter} {day.year}",
        InstalledPrecision.HALF: f"H{1 if day.month < 7 else 2} {day.year}",
        InstalledPrecision.YEAR: str(day.year),
        InstalledPrecision.DECADE: f"{day.year // 10 * 10}s",
        InstalledPrecision.ABOUT: f"about {day.year}",
        InstalledPrecision.BEFORE: f"before {day.year}",
    }.get(InstalledPrecision(precision), f"{day.day} {day:%B %Y}")


@dataclass(frozen=True)
class Volume:
    """Internal volume and what it rests on."""

    m3: float
    basis: str
    note: str = ""

    @property
    def is_known(self) -> bool:
        return self.m3 > 0


class SystemManager(models.Manager.from_queryset(SystemQuerySet)):  # type: ignore[misc]
    """Systems that a load entered and that left with it are in the ledger, and not here."""

    def get_queryset(self):
        return super().get_queryset().filter(taken_back_at__isnull=True)


class System(models.Model):
    class Kind(models.TextChoices):
        WET = "wet", "Wet pipe"
        DRY = "dry", "Dry pipe"
        PREACTION = "preaction", "Preaction"
        DELUGE = "deluge", "Deluge"
        ANTIFREEZE = "antifreeze", "Antifreeze"

    class Hazard(models.TextChoices):
        LIGHT = "light", "Light hazard"
        ORDINARY_1 = "ordinary_1", "Ordinary hazard group 1"
        ORDINARY_2 = "ordinary_2", "Ordinary hazard group 2"
        EXTRA_1 = "extra_1", "Extra hazard group 1"
        EXTRA_2 = "extra_2", "Extra hazard group 2"
        STORAGE = "storage", "Storage"
        UNKNOWN = "unknown", "Not recorded"

    class GasSupply(models.TextChoices):
        UNKNOWN = "unknown", "Not recorded"
        NONE = "none", "None fitted"
        CYLINDERS = "cylinders", "Nitrogen cylinders"
        GENERATOR = "generator", "Nitrogen generator"
        COMPRESSOR = "compressor", "Air compressor"

    GAS_FILLED_KINDS = (Kind.DRY, Kind.PREACTION)

    uuid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="systems")
    building = models.ForeignKey(
        Building, on_delete=models.PROTECT, related_name="systems", null=True, blank=True
    )
    tag = models.CharField(max_length=60)
    kind = models.CharField(max_length=12, choices=Kind)
    hazard = models.CharField(max_length=12, choices=Hazard, default=Hazard.UNKNOWN)
    design_pressure_gauge_pa = models.FloatField("design pressure", null=True, blank=True)
    rated_pressure_gauge_pa = models.FloatField(
        "rated working pressure of the weakest component", default=175 * PSI
    )
    service_pressure_gauge_pa = models.FloatField(
        "usual pressure in service", null=True, blank=True
    )
    installed_on = models.DateField()
    installed_precision = models.CharField(
        max_length=8, choices=InstalledPrecision, default=InstalledPrecision.DAY
    )
    gas_supply = models.CharField(max_length=12, choices=GasSupply, default=GasSupply.UNKNOWN)
    supply_n2_percent = models.FloatField(
        "nitrogen the supply delivers",
        null=True,
        blank=True,
        validators=[MinValueValidator(79.05), MaxValueValidator(100)],
    )
    generator_flow_m3_s = models.FloatField(
        "nitrogen swept through an open vent",
        null=True,
        blank=True,
        help_text="Flow of the generator at standard conditions, where the pipe is swept.",
    )
    consequence_class = models.PositiveSmallIntegerField(
        default=3,
        validators=[MinValueValidator(1), MaxValueValidator(5)],
        help_text="1 little depends on it … 5 lives or the whole business do.",
    )
    volume_override_m3 = models.FloatField("measured volume", null=True, blank=True)
    volume_override_note = models.CharField("how it was measured", max_length=200, blank=True)
    leaks_known_since = models.DateField(null=True, blank=True)
    taken_back_at = models.DateTimeField(null=True, blank=True, editable=False)
    open_rows = models.PositiveIntegerField("rows still to fix", default=0, editable=False)
    next_sequence = models.PositiveIntegerField(default=1, editable=False)
    head_hash = models.CharField(max_length=64, blank=True, editable=False)

    objects = SystemManager()

    class Meta:
        ordering = ["site__name", "tag"]
        constraints = [
            models.UniqueConstraint(
                fields=["site", "tag"],
                condition=models.Q(taken_back_at__isnull=True),
                name="one_system_of_a_tag_per_site",
                violation_error_message="A system of this tag is at this site already.",
            ),
            models.CheckConstraint(
                condition=models.Q(rated_pressure_gauge_pa__gt=0), name="rated_pressure_above_zero"
            ),
            models.CheckConstraint(
                condition=models.Q(volume_override_m3__isnull=True)
                | models.Q(volume_override_m3__gt=0),
                name="measured_volume_above_zero",
            ),
        ]
        indexes = [models.Index(fields=["tag"])]

    def __str__(self) -> str:
        return self.tag

    def get_absolute_url(self) -> str:
        return reverse("registry:system", args=[self.pk])

    @property
    def is_incomplete(self) -> bool:
        """Rows of its register wait to be fixed: volume, plan and score lack their pipe."""
        return self.open_rows > 0

    @property
    def is_gas_filled(self) -> bool:
        return self.kind in self.GAS_FILLED_KINDS

    @property
    def place(self) -> str:
        return f"{self.site.name}, {self.building.name}" if self.building else self.site.name

    def day_words(self, when: datetime) -> str:
        """A day by the clock at the site; the year alone where no more is known of it."""
        local = when.astimezone(self.site.zone)
        is_installation = local.date() == self.installed_on
        if is_installation:
            return installed_text(self.installed_on, self.installed_precision)
        return f"{local.day} {local:%B %Y}"

    def volume(self) -> Volume:
        if self.volume_override_m3:
            return Volume(self.volume_override_m3, "measured", self.volume_override_note)
        runs = list(self.pipe_runs.current().order_by("role", "-outside_diameter_mm", "pk"))
        given = sum(1 for run in runs if run.wall_basis == "given")
        note = f"{len(runs)} pipe runs" + (f", wall given for {given}" if given else "")
        return Volume(sum(run.volume_m3 for run in runs), "pipe runs", note)


class Fitting(models.Model):
    class Kind(models.TextChoices):
        VENT = "vent", "Vent"
        INJECTION_PORT = "injection_port", "Injection port"
        MAIN_DRAIN = "main_drain", "Main drain"
        AUXILIARY_DRAIN = "auxiliary_drain", "Auxiliary drain"
        LOW_POINT_DRAIN = "low_point_drain", "Low-point drain"
        GAUGE = "gauge", "Gauge"
        COMPRESSOR = "compressor", "Air compressor"
        GENERATOR = "generator", "Nitrogen generator"
        ANALYSER = "analyser", "Gas analyser"
        BACKFLOW_PREVENTER = "backflow_preventer", "Backflow preventer"

    system = models.ForeignKey(System, on_delete=models.PROTECT, related_name="fittings")
    kind = models.CharField(max_length=20, choices=Kind)
    label = models.CharField(max_length=80, blank=True, help_text="As marked on the drawing.")
    location = models.CharField(max_length=200, blank=True)
    serial = models.CharField("serial number", max_length=80, blank=True)
    calibrated_on = models.DateField("last calibrated", null=True, blank=True)
    fitted_on = models.DateField("fitted", null=True, blank=True)
    removed_on = models.DateField("taken out", null=True, blank=True)

    class Meta:
        ordering = ["kind", "label"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(removed_on__isnull=True)
                | models.Q(fitted_on__isnull=True)
                | models.Q(removed_on__gte=models.F("fitted_on")),
                name="fitting_removed_after_it_was_fitted",
            )
        ]

    def __str__(self) -> str:
        return self.label or self.get_kind_display()
