"""How an owner wants the rules: read from its policy and its settings, in one place."""

from collections.abc import Mapping
from dataclasses import dataclass

from registry.models import Organisation, OwnerPolicy
from scheduling.models import RuleSetting
from scheduling.rules import RULES, Rule, Tuning


def tuning_of(owner: Organisation) -> Mapping[str, Tuning]:
    """The days of the two rules on the atmosphere are kept in the owner's policy, the rest here."""
    policy = OwnerPolicy.for_owner(owner)
    settings = {row.rule: row for row in RuleSetting.objects.filter(owner=owner)}
    return {rule.code: _tuned(rule, policy, settings.get(rule.code)) for rule in RULES}


def _tuned(rule: Rule, policy: OwnerPolicy, setting: RuleSetting | None) -> Tuning:
    days = getattr(policy, rule.policy_field) if rule.policy_field else None
    if setting is None:
        return Tuning(days=days)
    return Tuning(setting.is_on, days or setting.days, setting.points)


@dataclass(frozen=True)
class RuleRow:
    """One rule as the owner has it, for the page that lists them."""

    rule: Rule
    tuning: Tuning
    setting: RuleSetting | None

    @property
    def days(self) -> int | None:
        return self.tuning.days or self.rule.days

    @property
    def points(self) -> float | None:
        return self.tuning.points or self.rule.points


def rule_rows(owner: Organisation) -> list[RuleRow]:
    tuning = tuning_of(owner)
    settings = {
        row.rule: row
        for row in RuleSetting.objects.filter(owner=owner).select_related("changed_by")
    }
    return [RuleRow(rule, tuning[rule.code], settings.get(rule.code)) for rule in RULES]
