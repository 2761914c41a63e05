"""How an owner wants the rules: read from its policy and its settings, in one place."""

from collections.abc import Mapping
from dataclasses import dataclass

from django.utils.translation import gettext, ngettext

from registry.models import Organisation, OwnerPolicy
from registry.words.spoken import Number
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
        if not self.days:
            return ""
        within = gettext("within {days}").format(days=_days(self.days))
        if not self.points:
            return within
        text = gettext("{within}, or once {points:g} score points have gone")
        return text.format(within=within, points=Number(self.points))

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
    listed = ", ".join(str(day) for day in first)
    if first:
        asked = gettext("after {listed} and {last} days").format(listed=listed, last=last)
    else:
        asked = gettext("after {days}").format(days=_days(last)) if last else gettext("none")
    every = policy.confirming_repeat_days
    if not every:
        return asked
    return gettext("{asked}, then every {days}").format(asked=asked, days=_days(every))


def _days(count: int) -> str:
    return ngettext("{count} day", "{count} days", count).format(count=count)
