from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext

from registry.models import Organisation, Site, System, User
from registry.models.querysets import AccessQuerySet, OwnedQuerySet, ThroughSystemQuerySet
from registry.translation import _
from registry.words.spoken import Spoken
from scheduling import library
from scheduling.library.loading import item_from
from scheduling.recurrence import MonthDay


class OwnItem(models.Model):
    """An owner's own version of a row of the library, or a row of its own.

    The seed stays with the program; only what an owner changed is kept here. The row of the
    same name is replaced by it, or left out where it is not used. Cells are worded as in the
    seed's file and read by the same code.
    """

    owner = models.ForeignKey(Organisation, on_delete=models.CASCADE, related_name="own_items")
    row = models.SlugField(max_length=80)
    key = models.SlugField(max_length=80)
    title = models.CharField(max_length=150)
    group = models.CharField(max_length=12, choices=library.GROUPS)
    system_kinds = models.CharField(max_length=60)
    interval = models.CharField(max_length=20, blank=True)
    trigger = models.CharField(max_length=120, blank=True)
    before = models.CharField(_("window before"), max_length=20, default="0 days")
    after = models.CharField(_("window after"), max_length=20, default="0 days")
    anchor = models.CharField(max_length=12, default="completion")
    season = models.CharField(max_length=20, choices=library.SEASONS, blank=True)
    condition = models.CharField(max_length=40, blank=True)
    standard = models.CharField(max_length=60, blank=True)
    edition_from = models.PositiveIntegerField(null=True, blank=True)
    edition_to = models.PositiveIntegerField(null=True, blank=True)
    clause = models.CharField(max_length=60, blank=True)
    source = models.TextField(max_length=500)
    how_known = models.CharField(max_length=40)
    note = models.TextField(max_length=500, blank=True)
    is_used = models.BooleanField(default=True)
    changed_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="own_items")
    changed_at = models.DateTimeField()

    objects = OwnedQuerySet.as_manager()

    class Meta:
        ordering = ["key", "row"]
        constraints = [
            models.UniqueConstraint(fields=["owner", "row"], name="one_version_of_a_row_per_owner")
        ]

    def __str__(self) -> str:
        return self.title

    def item(self) -> library.LibraryItem:
        return item_from({name: _cell(getattr(self, name)) for name in CELLS})


CELLS = (
    "row", "key", "title", "group", "system_kinds", "interval", "trigger", "before", "after",
    "anchor", "season", "condition", "standard", "edition_from", "edition_to", "clause", "source",
    "how_known", "note",
)  # fmt: skip


def _cell(value: object) -> str:
    return "" if value is None else str(value)


class AtSiteQuerySet(AccessQuerySet):
    site_path = "site__"

    def in_force(self):
        return self.filter(ended_at__isnull=True)


class AdoptedEdition(models.Model):
    """Which edition of which standard holds at a site, who said so and when; one that was given
    up keeps its row."""

    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="adopted_editions")
    edition = models.CharField(max_length=40)  # a key of the library; new ones need no migration
    adopted_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="adopted_editions")
    adopted_at = models.DateTimeField()
    ended_by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="ended_editions"
    )
    ended_at = models.DateTimeField(null=True, blank=True)

    objects = AtSiteQuerySet.as_manager()

    class Meta:
        ordering = ["-adopted_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["site", "edition"],
                condition=Q(ended_at__isnull=True),
                name="an_edition_is_adopted_once_per_site",
            )
        ]

    def __str__(self) -> str:
        return f"{self.definition.title} at {self.site}"

    @property
    def definition(self) -> library.Edition:
        return library.editions()[self.edition]


READY_BY, OVER_FROM = "10-31", "04-15"  # assumed, until a site says so


def check_month_day(text: str) -> None:
    try:
        month_day(text)
    except ValueError:
        raise ValidationError(
            gettext("“{text}” is not a day of the year; write month and day like 10-31.").format(
                text=text
            )
        ) from None


def month_day(text: str) -> MonthDay:
    month, day = text.split("-")
    return MonthDay(int(month), int(day))


class SiteWinter(models.Model):
    """When a site must be ready for frost and when frost is over, or that it never freezes."""

    site = models.OneToOneField(Site, on_delete=models.CASCADE, related_name="winter")
    has_frost = models.BooleanField(_("It can freeze here"), default=True)
    ready_by = models.CharField(
        _("Ready for frost by"), max_length=5, default=READY_BY, validators=[check_month_day]
    )
    over_from = models.CharField(
        _("Frost is over from"), max_length=5, default=OVER_FROM, validators=[check_month_day]
    )

    objects = AtSiteQuerySet.as_manager()

    def __str__(self) -> str:
        return f"Winter at {self.site}"

    @property
    def text(self) -> str:
        if not self.has_frost:
            return gettext("It never freezes here.")
        ready, over = (month_day(day).in_year(2000) for day in (self.ready_by, self.over_from))
        return gettext(
            "Ready for frost by {ready:%-d %B}; frost is over from {over:%-d %B}."
        ).format(ready=Spoken(ready), over=Spoken(over))

    @property
    def season(self) -> library.Winter | None:
        if not self.has_frost:
            return None
        return library.Winter(month_day(self.ready_by), month_day(self.over_from))


class SystemAnswer(models.Model):
    """What somebody answered to a question on which the choice of rows depends."""

    system = models.ForeignKey(System, on_delete=models.CASCADE, related_name="answers")
    condition = models.CharField(max_length=40)
    answer = models.BooleanField()

    objects = ThroughSystemQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["system", "condition"], name="one_answer_per_system_and_question"
            )
        ]

    def __str__(self) -> str:
        return f"{self.system_id} {self.condition}: {'yes' if self.answer else 'no'}"
