from collections.abc import Sequence
from uuid import UUID

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Max, Q
from django.urls import reverse

from registry.models import Record, System
from registry.models.querysets import ThroughSystemQuerySet
from registry.translation import _
from scheduling.models.recurring_querysets import OccurrenceQuerySet
from scheduling.models.uids import occurrence_uids
from scheduling.recurrence import Anchor, PlannedSlot, Recurrence, parse_interval


class SprinklerArea(models.Model):
    """Sprinklers of one type and environment that are sampled together."""

    class Type(models.TextChoices):
        STANDARD_RESPONSE = "standard_response", _("Standard response")
        FAST_RESPONSE = "fast_response", _("Fast response")
        DRY = "dry", _("Dry sprinklers")
        EXTRA_HIGH = "extra_high_temperature", _("Solder type, 325 °F (163 °C) or more")

    class Environment(models.TextChoices):
        ORDINARY = "", _("Ordinary")
        HARSH = "harsh", _("Harsh: corrosive water or air")
        HARSH_RESISTANT = "harsh_resistant", _("Harsh, and listed corrosion-resistant")

    system = models.ForeignKey(System, on_delete=models.PROTECT, related_name="sprinkler_areas")
    label = models.CharField(_("sample area"), max_length=80)
    sprinkler_type = models.CharField("type", max_length=24, choices=Type)
    environment = models.CharField(max_length=16, choices=Environment, blank=True, default="")
    count = models.PositiveIntegerField(
        "sprinklers", validators=[MinValueValidator(1), MaxValueValidator(100_000)]
    )
    installed_on = models.DateField("fitted")
    last_tested_on = models.DateField(_("last sample tested"), null=True, blank=True)
    is_removed = models.BooleanField(_("taken out"), default=False)

    objects = ThroughSystemQuerySet.as_manager()

    class Meta:
        ordering = ["label"]
        constraints = [
            models.UniqueConstraint(
                fields=["system", "label"],
                condition=Q(is_removed=False),
                name="one_sample_area_of_a_name_per_system",
            ),
            models.CheckConstraint(condition=Q(count__gte=1), name="sample_area_has_sprinklers"),
        ]

    def __str__(self) -> str:
        return self.label


class RecurringItem(models.Model):
    """An item of the library as it recurs at one system: the rule, and on whose word it stands.

    The rule is copied here when it is planned, so that a change of the library, of the
    edition or of an answer is seen as a change, and is in force from that day on.
    """

    system = models.ForeignKey(System, on_delete=models.PROTECT, related_name="recurring_items")
    key = models.CharField(max_length=80)
    title = models.CharField(max_length=150)
    group = models.CharField(max_length=12)
    area = models.ForeignKey(
        SprinklerArea, on_delete=models.PROTECT, null=True, blank=True, related_name="items"
    )
    interval = models.CharField(max_length=20)
    before = models.CharField(max_length=20)
    after = models.CharField(max_length=20)
    anchor = models.CharField(max_length=12)
    first_due = models.DateField()
    since = models.DateField(null=True, blank=True)
    last_done_on = models.DateField(_("last done before this book"), null=True, blank=True)
    asked_by = models.CharField(max_length=150)
    how_known = models.CharField(max_length=80)
    note = models.TextField(blank=True)
    presumed = models.CharField(max_length=40, blank=True)
    is_active = models.BooleanField(default=True)

    objects = ThroughSystemQuerySet.as_manager()

    class Meta:
        ordering = ["title"]
        constraints = [
            models.UniqueConstraint(
                fields=["system", "key"], name="one_recurring_item_per_system_and_key"
            )
        ]

    def __str__(self) -> str:
        return self.title

    @property
    def rule(self) -> Recurrence:
        return Recurrence(
            interval=parse_interval(self.interval),
            first_due=self.first_due,
            anchor=Anchor(self.anchor),
            before=parse_interval(self.before),
            after=parse_interval(self.after),
            since=self.since,
        )

    @property
    def rhythm(self) -> str:
        return parse_interval(self.interval).rhythm

    @property
    def is_from_completion(self) -> bool:
        """What follows the open occurrence moves with the day on which that is done."""
        return Anchor(self.anchor) is Anchor.COMPLETION


class Occurrence(models.Model):
    """One planned occurrence: its due day, its window at the site, and what became of it.

    The ledger holds what was done; a row that is settled is never planned again. `first_due_on`
    keeps the day it was first planned for when a change of rule has moved it.
    """

    class Status(models.TextChoices):
        OPEN = "open", _("Open")
        DONE = "done", _("Done")
        SKIPPED = "skipped", _("Skipped")
        MISSED = "missed", _("Missed")
        WITHDRAWN = "withdrawn", _("No longer asked for")

    uuid = models.UUIDField(unique=True, editable=False)
    item = models.ForeignKey(RecurringItem, on_delete=models.PROTECT, related_name="occurrences")
    system = models.ForeignKey(System, on_delete=models.PROTECT, related_name="occurrences")
    due_on = models.DateField()
    opens_on = models.DateField()
    closes_on = models.DateField()
    opens_at = models.DateTimeField(
        help_text=_("Start of the first day of the window at the site.")
    )
    late_at = models.DateTimeField(help_text=_("End of the last day of the window at the site."))
    first_due_on = models.DateField()
    status = models.CharField(max_length=10, choices=Status, default=Status.OPEN)
    timing = models.CharField(max_length=10, blank=True)
    days = models.PositiveIntegerField(default=0)
    record = models.ForeignKey(
        Record, on_delete=models.PROTECT, null=True, blank=True, related_name="occurrences"
    )
    planned_at = models.DateTimeField()
    settled_at = models.DateTimeField(null=True, blank=True)

    objects = OccurrenceQuerySet.as_manager()

    class Meta:
        ordering = ["late_at", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["item"], condition=Q(status="open"), name="one_open_occurrence_per_item"
            ),
            models.CheckConstraint(
                condition=Q(opens_on__lte=F("due_on")) & Q(closes_on__gte=F("due_on")),
                name="due_day_lies_within_its_window",
            ),
            models.CheckConstraint(
                condition=Q(status="open", settled_at__isnull=True)
                | (~Q(status="open") & Q(settled_at__isnull=False)),
                name="settled_occurrences_say_when",
            ),
        ]
        indexes = [
            models.Index(fields=["status", "late_at"]),
            models.Index(fields=["system", "status"]),
        ]

    def __str__(self) -> str:
        return f"{self.item} due {self.due_on:%Y-%m-%d}"

    def save(self, *args, **kwargs) -> None:
        if self.uuid is None:
            name_new([self])
        super().save(*args, **kwargs)

    def get_absolute_url(self) -> str:
        return reverse("scheduling:occurrence-complete", args=[self.pk])

    @property
    def slot(self) -> PlannedSlot:
        return PlannedSlot(self.due_on, self.opens_on, self.closes_on)

    @property
    def is_open(self) -> bool:
        return self.status == self.Status.OPEN

    @property
    def is_given_up(self) -> bool:
        return self.status not in (self.Status.OPEN, self.Status.DONE)

    @property
    def is_moved(self) -> bool:
        return self.first_due_on != self.due_on


def name_new(rows: Sequence[Occurrence]) -> None:
    """Give rows of different items their names before they are written, all at once."""
    before = _latest_uids([row.item for row in rows if row.item.is_from_completion])
    unnamed = [
        (row, occurrence_uids(row.system.uuid, row.item.key, row.due_on, before.get(row.item_id)))
        for row in rows
    ]
    while unnamed:
        for row, names in unnamed:
            row.uuid = next(names)
        asked = Occurrence.objects.filter(uuid__in=[row.uuid for row, _ in unnamed]).order_by()
        taken = set(asked.values_list("uuid", flat=True))
        unnamed = [(row, names) for row, names in unnamed if row.uuid in taken]


def _latest_uids(items: Sequence[RecurringItem]) -> dict[int, UUID]:
    """The name of the latest occurrence of each item that had one."""
    of_items = Occurrence.objects.filter(item__in=items).order_by()
    latest = of_items.values("item").annotate(latest=Max("pk")).values("latest")
    rows = Occurrence.objects.filter(pk__in=latest).order_by()
    return dict(rows.values_list("item_id", "uuid"))
