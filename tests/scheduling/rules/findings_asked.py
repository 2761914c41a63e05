"""Which rules on single records a record asks for by itself, without a database."""

from datetime import datetime
from typing import Any

from scheduling.rules import RULES, Cause, Finding
from scheduling.rules.finding_rule import FindingRule


def rules_that_ask(kind: str, details: dict[str, Any], at: datetime) -> frozenset[str]:
    finding = Finding(Cause(1, ("1",), kind, at, at), kind, details)
    return frozenset(
        rule.code
        for rule in RULES
        if isinstance(rule, FindingRule)
        and kind in {one.code for one in rule.reads}
        and rule.asks(finding)
    )
