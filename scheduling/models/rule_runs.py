from django.db import models
from django.utils.translation import gettext

from registry.models import Record, System
from registry.models.querysets import ThroughSystemQuerySet
from registry.translation import _
from registry.words.spoken import written
from scheduling.rules import rule_of


class RuleRun(models.Model):
    """Whether the rules were applied to a record; without `done_at` the sweep repeats them."""

    record = models.OneToOneField(Record, on_delete=models.CASCADE, related_name="rule_run")
    done_at = models.DateTimeField(null=True, blank=True)
    error = models.TextField(blank=True)
    attempts = models.PositiveIntegerField(default=0)

    class Meta:
        indexes = [
            models.Index(
                fields=["record"], condition=models.Q(done_at__isnull=True), name="open_rule_runs"
            )
        ]

    def __str__(self) -> str:
        return f"Rules for {self.record_id}: {'done' if self.done_at else 'open'}"


class RuleFailure(models.Model):
    """A rule that could not be applied to one system. It goes when the rule has been applied; as
    long as it stands the follow-ups of that rule there are left as they are."""

    system = models.ForeignKey(System, on_delete=models.CASCADE, related_name="rule_failures")
    rule = models.CharField(max_length=40)
    since = models.DateTimeField()
    error = models.TextField()
    attempts = models.PositiveIntegerField(default=1)

    objects = ThroughSystemQuerySet.as_manager()

    class Meta:
        ordering = ["since", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["system", "rule"], name="one_failure_per_rule_and_system"
            )
        ]

    def __str__(self) -> str:
        since = self.since.astimezone(self.system.site.zone)
        return gettext(
            "Rule “%(rule)s” could not be applied to %(system)s since %(since)s; what it would ask "
            "for is not known."
        ) % {
            "rule": self.title,
            "system": self.system.tag,
            "since": written(since, "%-d %B %Y, %H:%M"),
        }

    @property
    def title(self) -> str:
        rule = rule_of(self.rule)
        return gettext(rule.title) if rule else self.rule


class SystemWatch(models.Model):
    """The state to which the follow-ups of a system were last brought, so that the sweep can see
    at a glance which systems time, or a changed fact, has since put into another."""

    system = models.OneToOneField(
        System, on_delete=models.CASCADE, primary_key=True, related_name="watch"
    )
    state = models.CharField(max_length=10)
    state_since = models.DateTimeField(help_text=_("Begin of the span that held then."))
    applied_at = models.DateTimeField()
    assessment = models.CharField(
        max_length=80, blank=True, help_text=_("The assessment that due dates rested on.")
    )
    is_stale = models.BooleanField(default=False, help_text=_("Its owner changed the rules since."))
    is_to_derive = models.BooleanField(
        default=False, help_text=_("Its owner changed the limits its atmosphere is judged by.")
    )

    def __str__(self) -> str:
        return f"{self.system_id} {self.state}"
