from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from registry.models import Organisation, User
from registry.translation import _


class RuleSetting(models.Model):
    """How one owner wants one rule; without a row it is on, with the rule's own numbers."""

    owner = models.ForeignKey(Organisation, on_delete=models.CASCADE, related_name="rule_settings")
    rule = models.CharField(max_length=40)
    is_on = models.BooleanField("on", default=True)
    days = models.PositiveIntegerField(
        null=True, blank=True, validators=[MinValueValidator(1), MaxValueValidator(3650)]
    )
    points = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(0.01), MaxValueValidator(100)]
    )
    changed_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    changed_at = models.DateTimeField()

    class Meta:
        ordering = ["owner", "rule"]
        constraints = [
            models.UniqueConstraint(fields=["owner", "rule"], name="one_setting_per_owner_and_rule")
        ]

    def __str__(self) -> str:
        return f"{self.rule} for {self.owner}: {'on' if self.is_on else 'off'}"


class EscalationLevel(models.Model):
    """Who is told when a follow-up is late by so many days."""

    class Told(models.TextChoices):
        WORKER = "worker", _("Managers of whoever has the work")
        OWNER = "owner", _("The owner's managers")
        PERSON = "person", _("One person")

    owner = models.ForeignKey(
        Organisation, on_delete=models.CASCADE, related_name="escalation_levels"
    )
    level = models.PositiveSmallIntegerField(
        validators=[MinValueValidator(1), MaxValueValidator(9)]
    )
    after_days = models.PositiveIntegerField(_("days late"), validators=[MaxValueValidator(3650)])
    told = models.CharField(max_length=8, choices=Told)
    person = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ["owner", "level"]
        constraints = [
            models.UniqueConstraint(
                fields=["owner", "level"], name="one_escalation_of_a_level_per_owner"
            ),
            models.CheckConstraint(
                condition=models.Q(told="person", person__isnull=False)
                | ~models.Q(told="person") & models.Q(person__isnull=True),
                name="a_person_only_where_one_is_told",
            ),
        ]

    def __str__(self) -> str:
        return f"Level {self.level} after {self.after_days} days"


class Escalation(models.Model):
    """A follow-up that was late by so much that others were to be told; raised once per level."""

    task = models.ForeignKey(
        "scheduling.Task", on_delete=models.CASCADE, related_name="escalations"
    )
    level = models.PositiveSmallIntegerField()
    raised_at = models.DateTimeField()
    late_since = models.DateTimeField(help_text=_("When the follow-up was due as this was raised."))
    told = models.CharField(max_length=8, choices=EscalationLevel.Told)
    people = models.ManyToManyField(User, related_name="escalations")

    class Meta:
        ordering = ["task", "level"]
        constraints = [
            models.UniqueConstraint(fields=["task", "level"], name="one_escalation_per_task_level")
        ]

    def __str__(self) -> str:
        return f"{self.task_id} level {self.level}"
