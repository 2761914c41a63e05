import uuid
from dataclasses import dataclass
from datetime import date, datetime

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.urls import reverse
from django.utils.translation import gettext, ngettext

from registry.models.querysets import SystemQuerySet
from registry.models.sites import Building, Site
from registry.quantities import PSI
from registry.translation import _
from registry.words.spoken import day_words, written


class InstalledPrecision(models.TextChoices):
    """How exactly a day of installation is known; the day itself is the first of its span."""

    DAY = "day", _("Day")
    MONTH = "month", _("Month only")
    QUARTER = "quarter", _("Quarter only")
    HALF = "half", _("Half-year only")
    YEAR = "year", _("Year only")
    DECADE = "decade", _("Decade only")
    ABOUT = "about", _("About that year")
    BEFORE = "before", _("Before that year")


def installed_text(day: date, precision: str) -> str:
    """The day in words that claim no more than is known: “Q3 2011”, “about 1998”."""
    quarter = (day.month + 2) // 3
    return {
        InstalledPrecision.MONTH: written(day, "%B %Y"),
        InstalledPrecision.QUARTER: f"Q{quarter} {day.year}",
        InstalledPrecision.HALF: f"H{1 if day.month < 7 else 2} {day.year}",
        InstalledPrecision.YEAR: str(day.year),
        InstalledPrecision.DECADE: f"{day.year // 10 * 10}s",
        InstalledPrecision.ABOUT: gettext("about %(year)s") % {"year": day.year},
        InstalledPrecision.BEFORE: gettext("before %(year)s") % {"year": day.year},
    }.get(InstalledPrecision(precision), day_words(day))


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
        WET = "wet", _("Wet pipe")
        DRY = "dry", _("Dry pipe")
        PREACTION = "preaction", _("Preaction")
        DELUGE = "deluge", _("Deluge")
        ANTIFREEZE = "antifreeze", _("Antifreeze")

    class Hazard(models.TextChoices):
        LIGHT = "light", _("Light hazard")
        ORDINARY_1 = "ordinary_1", _("Ordinary hazard group 1")
        ORDINARY_2 = "ordinary_2", _("Ordinary hazard group 2")
        EXTRA_1 = "extra_1", _("Extra hazard group 1")
        EXTRA_2 = "extra_2", _("Extra hazard group 2")
        STORAGE = "storage", _("Storage")
        UNKNOWN = "unknown", _("Not recorded")

    class GasSupply(models.TextChoices):
        UNKNOWN = "unknown", _("Not recorded")
        NONE = "none", _("None fitted")
        CYLINDERS = "cylinders", _("Nitrogen cylinders")
        GENERATOR = "generator", _("Nitrogen generator")
        COMPRESSOR = "compressor", _("Air compressor")

    GAS_FILLED_KINDS = (Kind.DRY, Kind.PREACTION)

    uuid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="systems")
    building = models.ForeignKey(
        Building, on_delete=models.PROTECT, related_name="systems", null=True, blank=True
    )
    tag = models.CharField(max_length=60)
    kind = models.CharField(max_length=12, choices=Kind)
    hazard = models.CharField(max_length=12, choices=Hazard, default=Hazard.UNKNOWN)
    design_pressure_gauge_pa = models.FloatField(_("design pressure"), null=True, blank=True)
    rated_pressure_gauge_pa = models.FloatField(
        _("rated working pressure of the weakest component"), default=175 * PSI
    )
    service_pressure_gauge_pa = models.FloatField(
        _("usual pressure in service"), null=True, blank=True
    )
    installed_on = models.DateField()
    installed_precision = models.CharField(
        max_length=8, choices=InstalledPrecision, default=InstalledPrecision.DAY
    )
    gas_supply = models.CharField(max_length=12, choices=GasSupply, default=GasSupply.UNKNOWN)
    supply_n2_percent = models.FloatField(
        _("nitrogen the supply delivers"),
        null=True,
        blank=True,
        validators=[MinValueValidator(79.05), MaxValueValidator(100)],
    )
    generator_flow_m3_s = models.FloatField(
        _("nitrogen swept through an open vent"),
        null=True,
        blank=True,
        help_text=_("Flow of the generator at standard conditions, where the pipe is swept."),
    )
    consequence_class = models.PositiveSmallIntegerField(
        default=3,
        validators=[MinValueValidator(1), MaxValueValidator(5)],
        help_text=_("1 little depends on it … 5 lives or the whole business do."),
    )
    volume_override_m3 = models.FloatField(_("measured volume"), null=True, blank=True)
    volume_override_note = models.CharField(_("how it was measured"), max_length=200, blank=True)
    leaks_known_since = models.DateField(_("leaks known since"), null=True, blank=True)
    taken_back_at = models.DateTimeField(null=True, blank=True, editable=False)
    open_rows = models.PositiveIntegerField(_("rows still to fix"), default=0, editable=False)
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
                violation_error_message=_("A system of this tag is at this site already."),
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
    def incomplete_words(self) -> str:
        """For papers and calendars; nothing where the register is whole."""
        if not self.is_incomplete:
            return ""
        words = ngettext(
            "Incomplete: %(rows)s row of the register is still to be fixed, so pipe is missing "
            "from volume, plan and score.",
            "Incomplete: %(rows)s rows of the register are still to be fixed, so pipe is missing "
            "from volume, plan and score.",
            self.open_rows,
        )
        return words % {"rows": self.open_rows}

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
        return day_words(local)

    def volume(self) -> Volume:
        if self.volume_override_m3:
            return Volume(self.volume_override_m3, "measured", self.volume_override_note)
        runs = list(self.pipe_runs.current().order_by("role", "-outside_diameter_mm", "pk"))
        given = sum(1 for run in runs if run.wall_basis == "given")
        note = gettext("{runs} pipe runs").format(runs=len(runs)) + (
            gettext(", wall given for {given}").format(given=given) if given else ""
        )
        return Volume(sum(run.volume_m3 for run in runs), gettext("pipe runs"), note)


class Fitting(models.Model):
    class Kind(models.TextChoices):
        VENT = "vent", _("Vent")
        INJECTION_PORT = "injection_port", _("Injection port")
        MAIN_DRAIN = "main_drain", _("Main drain")
        AUXILIARY_DRAIN = "auxiliary_drain", _("Auxiliary drain")
        LOW_POINT_DRAIN = "low_point_drain", _("Low-point drain")
        GAUGE = "gauge", _("Gauge")
        COMPRESSOR = "compressor", _("Air compressor")
        GENERATOR = "generator", _("Nitrogen generator")
        ANALYSER = "analyser", _("Gas analyser")
        BACKFLOW_PREVENTER = "backflow_preventer", _("Backflow preventer")
        CONTROL_VALVE = "control_valve", _("Control valve")
        FIRE_CONNECTION = "fire_connection", _("Fire department connection")
        REMOTE_POINT = "remote_point", _("Remote vent or zone")

    system = models.ForeignKey(System, on_delete=models.PROTECT, related_name="fittings")
    kind = models.CharField(max_length=20, choices=Kind)
    label = models.CharField(
        _("tag"), max_length=80, blank=True, help_text=_("As it hangs there, or is on the drawing.")
    )
    order = models.PositiveSmallIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(99)],
        help_text=_("Which is worked first, where several of a kind are worked in turn."),
    )
    location = models.CharField(max_length=200, blank=True)
    serial = models.CharField(_("serial number"), max_length=80, blank=True)
    calibrated_on = models.DateField(_("last calibrated"), null=True, blank=True)
    fitted_on = models.DateField("fitted", null=True, blank=True)
    removed_on = models.DateField(_("taken out"), null=True, blank=True)

    class Meta:
        ordering = ["kind", models.F("order").asc(nulls_last=True), "label"]
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
