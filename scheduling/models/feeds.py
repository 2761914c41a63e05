from django.db import models
from django.db.models import Q
from django.utils.translation import gettext

from registry.models import Building, Organisation, Site, System, User
from registry.translation import _
from scheduling.models.bookings import Crew

SCOPED = ("site", "building", "system", "contractor", "crew")


def _only(scope: str) -> Q:
    """The scope names its own row and no other."""
    named = {f"{name}__isnull": name != scope for name in SCOPED}
    return Q(scope=scope, **named)


class FeedTokenQuerySet(models.QuerySet):
    def live(self):
        return self.filter(revoked_at__isnull=True, user__is_active=True)


class FeedToken(models.Model):
    """A secret address for one person's calendar program. Only the digest of the secret is kept."""

    class Scope(models.TextChoices):
        PERSON = "person", _("Everything I may see")
        SITE = "site", _("One site")
        BUILDING = "building", _("One building")
        SYSTEM = "system", _("One system")
        CONTRACTOR = "contractor", _("What one contractor has to do")
        CREW = "crew", _("What one crew has to do")

    class Alarm(models.TextChoices):
        NONE = "none", _("None")
        HOUR = "hour", _("An hour before")
        DAY = "day", _("A day before")
        WEEK = "week", _("A week before")

    class Detail(models.TextChoices):
        FULL = "full", _("Place, reason, cautions and a link")
        BRIEF = "brief", _("Work and time, and a link: for a calendar that others can read")

    class Horizon(models.IntegerChoices):
        PLANNED = 0, _("Only what is planned")
        MONTH = 30, _("30 days")
        QUARTER = 90, _("90 days")
        YEAR = 365, _("A year")

    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="feed_tokens")
    label = models.CharField(max_length=80)
    scope = models.CharField(max_length=12, choices=Scope, default=Scope.PERSON)
    site = models.ForeignKey(
        Site, on_delete=models.CASCADE, null=True, blank=True, related_name="feed_tokens"
    )
    system = models.ForeignKey(
        System, on_delete=models.CASCADE, null=True, blank=True, related_name="feed_tokens"
    )
    building = models.ForeignKey(
        Building, on_delete=models.CASCADE, null=True, blank=True, related_name="feed_tokens"
    )
    contractor = models.ForeignKey(
        Organisation, on_delete=models.CASCADE, null=True, blank=True, related_name="feed_tokens"
    )
    crew = models.ForeignKey(
        Crew, on_delete=models.CASCADE, null=True, blank=True, related_name="feed_tokens"
    )
    with_tasks = models.BooleanField(default=True)
    with_recurring = models.BooleanField(default=False)
    with_impairments = models.BooleanField(default=False)
    horizon_days = models.PositiveSmallIntegerField(
        choices=Horizon,
        default=Horizon.PLANNED,
        help_text=_("How far ahead recurring work is shown that is expected, but not planned yet."),
    )
    alarm = models.CharField(max_length=6, choices=Alarm, default=Alarm.DAY)
    detail = models.CharField(max_length=6, choices=Detail, default=Detail.FULL)
    digest = models.CharField(max_length=64, unique=True, editable=False)
    created_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    rests_on = models.CharField(
        max_length=64,
        blank=True,
        editable=False,
        help_text=_("What `shows` was made of, as a digest."),
    )
    shows = models.CharField(
        max_length=64, blank=True, editable=False,
        help_text=_("A digest of the recurring work and impairments that were last written."),
    )  # fmt: skip
    shows_since = models.DateTimeField(null=True, editable=False)
    shows_until = models.DateTimeField(
        null=True, editable=False, help_text=_("From here on time alone changes what is shown.")
    )
    last_fetched_at = models.DateTimeField(null=True, blank=True)

    objects = FeedTokenQuerySet.as_manager()

    class Meta:
        ordering = ["-created_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=_only("person")
                | _only("site")
                | _only("building")
                | _only("system")
                | _only("contractor")
                | _only("crew"),
                name="feed_names_what_its_scope_needs",
            ),
            models.CheckConstraint(
                condition=Q(with_tasks=True) | Q(with_recurring=True) | Q(with_impairments=True),
                name="feed_holds_something",
            ),
        ]

    def __str__(self) -> str:
        return self.label

    @property
    def holds(self) -> str:
        """What is in the feed, in words."""
        return f"{self._what} {self._where}"

    @property
    def _what(self) -> str:
        kinds = [
            (self.with_tasks, "follow-ups"),
            (self.with_recurring, gettext("recurring work")),
            (self.with_impairments, "impairments"),
        ]
        *most, last = [words for is_held, words in kinds if is_held]
        return (f"{', '.join(most)} and {last}" if most else last).capitalize()

    @property
    def _where(self) -> str:
        if self.site:
            return f"at {self.site}"
        if self.building:
            return f"in {self.building}, {self.building.site}"
        if self.system:
            return f"of {self.system}, {self.system.site}"
        if self.contractor:
            return gettext("that {contractor} has to do").format(contractor=self.contractor)
        if self.crew:
            return f"of {self.crew}, {self.crew.organisation}"
        return gettext("at every site you may see")
