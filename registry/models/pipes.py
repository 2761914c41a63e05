import math
import uuid

from django.db import models
from django.utils.translation import gettext

from registry.models.systems import InstalledPrecision, System
from registry.translation import _

RUSTLESS = frozenset(("copper", "stainless_steel", "cpvc"))
"""Outside the oxygen ledger: nobody is urged to make such pipe inert."""


class PipeRunQuerySet(models.QuerySet):
    def current(self):
        return self.filter(superseded_by__isnull=True, is_withdrawn=False)

    def rusts(self) -> bool:
        """Whether some pipe among these does; where none is on record, it is taken to."""
        materials = set(self.order_by().values_list("material", flat=True))
        return not materials or not materials <= RUSTLESS


class PipeRun(models.Model):
    """A length of one material, size and wall; never edited: a corrected run supersedes it."""

    class Role(models.TextChoices):
        RISER = "riser", _("Riser")
        FEED_MAIN = "feed_main", _("Feed main")
        CROSS_MAIN = "cross_main", _("Cross main")
        BRANCH_LINE = "branch_line", _("Branch line")

    class Material(models.TextChoices):
        BLACK_STEEL = "black_steel", _("Black steel")
        GALVANIZED_STEEL = "galvanized_steel", _("Galvanized steel")
        STAINLESS_STEEL = "stainless_steel", _("Stainless steel")
        COPPER = "copper", _("Copper")
        CPVC = "cpvc", _("CPVC")

    class Joint(models.TextChoices):
        UNKNOWN = "unknown", _("Not recorded")
        THREADED = "threaded", _("Threaded")
        ROLL_GROOVED = "roll_grooved", _("Grooved, rolled")
        CUT_GROOVED = "cut_grooved", _("Grooved, cut")
        WELDED = "welded", _("Welded")

    class WallBasis(models.TextChoices):
        TABLE = "table", _("From the pipe table")
        GIVEN = "given", _("Given")

    system = models.ForeignKey(System, on_delete=models.PROTECT, related_name="pipe_runs")
    uuid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    record = models.OneToOneField(
        "registry.Record", on_delete=models.PROTECT, related_name="pipe_run", null=True
    )
    role = models.CharField(max_length=12, choices=Role)
    material = models.CharField(max_length=16, choices=Material)
    schedule = models.CharField(max_length=12, blank=True)
    nominal_size = models.CharField(max_length=8)
    outside_diameter_mm = models.FloatField()
    wall_mm = models.FloatField()
    wall_basis = models.CharField(max_length=5, choices=WallBasis, default=WallBasis.TABLE)
    length_m = models.FloatField()
    joint = models.CharField(max_length=12, choices=Joint, default=Joint.UNKNOWN)
    installed_on = models.DateField()
    installed_precision = models.CharField(
        max_length=8, choices=InstalledPrecision, default=InstalledPrecision.DAY
    )
    supersedes = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="superseded_by"
    )
    is_withdrawn = models.BooleanField(default=False)

    objects = PipeRunQuerySet.as_manager()

    class Meta:
        ordering = ["system", "role", "-outside_diameter_mm", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(length_m__gt=0), name="pipe_length_above_zero"
            ),
            models.CheckConstraint(
                condition=models.Q(wall_mm__gt=0)
                & models.Q(outside_diameter_mm__gt=2 * models.F("wall_mm")),
                name="pipe_has_a_wall_and_a_bore",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_role_display()} {self.nominal_size} in"

    @property
    def schedule_words(self) -> str:
        """Steel goes by schedule, copper by type, and light-wall pipe and plastic by name."""
        if self.material == self.Material.COPPER:
            return f"type {self.schedule}"
        if self.schedule == "light":
            return gettext("light wall")
        return f"schedule {self.schedule}" if self.schedule[:1].isdigit() else self.schedule

    @property
    def inside_diameter_mm(self) -> float:
        return self.outside_diameter_mm - 2 * self.wall_mm

    @property
    def volume_m3(self) -> float:
        return math.pi / 4 * (self.inside_diameter_mm / 1000) ** 2 * self.length_m

    @property
    def internal_area_m2(self) -> float:
        return math.pi * self.inside_diameter_mm / 1000 * self.length_m
