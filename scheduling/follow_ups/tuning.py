"""How an owner wants the rules: read from its policy and its settings, in one place."""

from collections.abc import Mapping
from dataclasses import dataclass

from django.utils.translation import gettext

from registry.models import Organisation, OwnerPolicy
from scheduling.models import RuleSetting
from scheduling.rules import RULES, Rule, Tuning


def tuning_of(owner: Organisation) -> Mapping[str, Tuning]:
    """The days of the two rules on the atmosphere are kept in the owner's policy, the rest here."""
    policy = OwnerPolicy.for_owner(owner)
    rows = RuleSetting.objects.filter(owner=owner).order_by()
    settings = {row.rule: row for row in rows}
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
    policy: OwnerPolicy

    @property
    def due_text(self) -> str:
        if self.rule.is_by_policy_days:
            return _confirming_text(self.policy)
        text = f"within {_days(self.days)}" if self.days else ""
        return f"{text}, or once {self.points:g} score points have gone" if self.points else text

    @property
    def waits_for(self) -> str:
        return gettext(self.rule.waits_for)

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
    policy = OwnerPolicy.for_owner(owner)
    return [RuleRow(rule, tuning[rule.code], settings.get(rule.code), policy) for rule in RULES]


def _confirming_text(policy: OwnerPolicy) -> str:
    """“after 1, 30 and 365 days, then every 365 days”"""
    *first, last = sorted(policy.confirming_days) or [0]
    listed = f"{', '.join(str(day) for day in first)} and {last}" if first else str(last)
    asked = f"after {listed} day{'' if listed == '1' else 's'}" if last else "none"
    every = policy.confirming_repeat_days
    return f"{asked}, then every {_days(every)}" if every else asked


def _days(count: int) -> str:
    return "1 day" if count == 1 else f"{count} days"
