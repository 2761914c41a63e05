"""What a person or an owner keeps at the desk: prices, saved views, when they last looked."""

import uuid

from django.core.validators import MaxValueValidator
from django.db import models

from registry.models.people import Organisation, User
from registry.translation import _

MOST_MONEY = 1_000_000_000


def price(words: str, help_text: str = "") -> models.PositiveIntegerField:
    """A price in whole units of the owner's currency; empty while the owner has said none."""
    return models.PositiveIntegerField(
        words, null=True, blank=True, validators=[MaxValueValidator(MOST_MONEY)],
        help_text=help_text,
    )  # fmt: skip


class OwnerPrices(models.Model):
    """An owner's own prices. What is empty is assumed, and every page says so."""

    owner = models.OneToOneField(Organisation, on_delete=models.CASCADE, related_name="prices")
    currency = models.CharField(
        _("currency"), max_length=12, blank=True,
        help_text=_("As you write it before an amount. The book does not guess it."),
    )  # fmt: skip
    leak_incident = price(
        _("one leak, with all that it ruins"),
        _("Repair, water, stock and time lost, on average of your leaks."),
    )
    reinerting_visit = price(
        _("one visit to make a system inert"), _("Travel, hours and nitrogen, on average.")
    )
    replacement_per_m = models.JSONField(
        default=dict, blank=True, help_text=_("Price of a metre by nominal size.")
    )

    def __str__(self) -> str:
        return f"Prices of {self.owner}"


class SavedView(models.Model):
    """A name for a filter and an order of the portfolio, shared within an organisation."""

    uuid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    organisation = models.ForeignKey(
        Organisation, on_delete=models.CASCADE, related_name="saved_views"
    )
    name = models.CharField(_("name of the view"), max_length=40)
    query = models.CharField(max_length=1000, blank=True)
    made_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(
                fields=["organisation", "name"], name="one_view_of_a_name_per_organisation"
            )
        ]

    def __str__(self) -> str:
        return self.name


class LastVisit(models.Model):
    """When a person's present visit to the portfolio began, and when the one before it ended."""

    user = models.OneToOneField(User, on_delete=models.CASCADE, related_name="last_visit")
    began_at = models.DateTimeField()
    seen_at = models.DateTimeField()
    before_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return f"{self.user_id} {self.seen_at:%Y-%m-%d %H:%M}"
