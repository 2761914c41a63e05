"""The rows of one system taken together: what they agree on, and what a person has to decide."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from django.utils.translation import gettext

from registry.imports.answers import Answers, Question, choice_key
from registry.imports.cells import NO_NITROGEN, SOME_NITROGEN
from registry.imports.parsed import ParsedRow
from registry.models import PipeRun, System
from registry.services.ledger import RecordError
from registry.services.register.systems import check_materials
from registry.translation import _

AGREEING = ("kind", "hazard", "building")  # a system has one of each
NOTHING = ("", System.Hazard.UNKNOWN)
SUPPLIES = tuple((value, str(label)) for value, label in System.GasSupply.choices)
ROUNDING = 0.01  # 12.1 bar and 175 psi are one rating, typed in two units
ROWS_NAMED = 4

SUPPLY_WORDS = {
    NO_NITROGEN: "no",
    SOME_NITROGEN: _("yes, but not which"),
    System.GasSupply.CYLINDERS: "cylinders",
    System.GasSupply.GENERATOR: "generator",
    System.GasSupply.COMPRESSOR: "compressor",
}


@dataclass(slots=True)
class SystemClaims:
    """What each row says about its system; only distinct values and the first rows are kept."""

    site: str
    tag: str
    first_row: str
    values: dict[tuple[str, Any], list[str]] = field(default_factory=dict)
    installed_on: date | None = None
    installed_precision: str = ""
    has_cpvc: bool = False

    def add(self, row: ParsedRow) -> None:
        for name in (
            *AGREEING,
            "gas_supply",
            "rated_pressure_gauge_pa",
            "design_pressure_gauge_pa",
        ):
            rows = self.values.setdefault((name, getattr(row, name)), [])
            if len(rows) < ROWS_NAMED:
                rows.append(row.name)
        run = row.run
        if self.installed_on is None or run.installed_on < self.installed_on:
            self.installed_on, self.installed_precision = run.installed_on, run.installed_precision
        self.has_cpvc = self.has_cpvc or run.material == PipeRun.Material.CPVC

    def said(self, name: str) -> dict[Any, list[str]]:
        return {
            value: rows
            for (field_name, value), rows in self.values.items()
            if field_name == name and value not in NOTHING and value is not None
        }


@dataclass(frozen=True, slots=True)
class Conflict:
    field: str
    wrong: str
    right: str
    question: str = ""


@dataclass(slots=True)
class SystemPlan:
    """The system as it would be entered, or why it cannot be yet."""

    facts: dict[str, Any] = field(default_factory=dict)
    building: str = ""
    conflicts: list[Conflict] = field(default_factory=list)
    questions: list[Question] = field(default_factory=list)
    notices: list[str] = field(default_factory=list)


def plan_system(claims: SystemClaims, answers: Answers) -> SystemPlan:
    plan = SystemPlan()
    agreed = {name: _agreed(claims, name, answers, plan) for name in AGREEING}
    plan.building = agreed["building"] or ""
    plan.facts = {
        "tag": claims.tag,
        "kind": agreed["kind"],
        "hazard": agreed["hazard"] or System.Hazard.UNKNOWN,
        "gas_supply": _gas_supply(claims, agreed["kind"], answers, plan),
        "installed_on": claims.installed_on,
        "installed_precision": claims.installed_precision,
    }
    _pressures(claims, plan)
    if claims.has_cpvc and not plan.conflicts:
        _check_cpvc(plan)
    return plan


def _agreed(claims: SystemClaims, name: str, answers: Answers, plan: SystemPlan) -> Any:
    said = claims.said(name)
    if len(said) < 2:
        return next(iter(said), None)
    if name == "building" and answers.same_tags is None:
        plan.conflicts.append(
            Conflict(
                name,
                (
                    gettext("the rows of %(tag)s are in several buildings: %(listed)s")
                    % {"tag": claims.tag, "listed": _listed(name, said)}
                ),
                gettext(
                    "Say whether tags repeat from building to building, or correct the building."
                ),
                "same_tags",
            )
        )
        return None
    key = choice_key(claims.site, claims.tag, name)
    plan.questions.append(
        Question(
            key,
            (
                gettext("%(tag)s at %(site)s: which %(name)s is right?")
                % {"tag": claims.tag, "site": claims.site, "name": name}
            ),
            tuple((value, word(name, value)) for value in said),
            _listed(name, said),
        )
    )
    if (chosen := answers.choices.get(key)) in said:
        return chosen
    plan.conflicts.append(
        Conflict(
            name,
            (
                gettext("the rows of %(tag)s disagree: %(listed)s")
                % {"tag": claims.tag, "listed": _listed(name, said)}
            ),
            gettext("Write the same in every row of the system, or choose when importing."),
            key,
        )
    )
    return None


def _gas_supply(claims: SystemClaims, kind: str, answers: Answers, plan: SystemPlan) -> str:
    """A definite answer when the rows give one; otherwise not recorded, with a question."""
    said = claims.said("gas_supply")
    said.pop(System.GasSupply.UNKNOWN, None)
    if not said:
        return System.GasSupply.UNKNOWN
    if len(said) == 1:
        only = next(iter(said))
        if only == NO_NITROGEN and kind not in System.GAS_FILLED_KINDS:
            return System.GasSupply.NONE
        if only in System.GasSupply.values:
            return str(only)
    key = choice_key(claims.site, claims.tag, "gas_supply")
    plan.questions.append(
        Question(
            key,
            (
                gettext("%(tag)s at %(site)s: what supplies its gas?")
                % {"tag": claims.tag, "site": claims.site}
            ),
            SUPPLIES,
            _listed("gas_supply", said),
        )
    )
    chosen = answers.choices.get(key)
    return chosen if chosen in System.GasSupply.values else System.GasSupply.UNKNOWN


def _pressures(claims: SystemClaims, plan: SystemPlan) -> None:
    """The lowest rating governs: the book holds that of the weakest component."""
    rated = sorted(claims.said("rated_pressure_gauge_pa"))
    if rated:
        plan.facts["rated_pressure_gauge_pa"] = rated[0]
        if rated[-1] > rated[0] * (1 + ROUNDING):
            plan.notices.append(
                gettext("rated pressures differ between rows: the lowest was taken")
            )
    design = sorted(claims.said("design_pressure_gauge_pa"))
    if design and design[-1] <= design[0] * (1 + ROUNDING):
        plan.facts["design_pressure_gauge_pa"] = design[0]
    elif design:
        plan.notices.append(gettext("design pressures differ between rows: none was recorded"))


def _check_cpvc(plan: SystemPlan) -> None:
    system = System(kind=plan.facts["kind"], gas_supply=plan.facts["gas_supply"])
    try:
        check_materials(system, [PipeRun(material=PipeRun.Material.CPVC)])
    except RecordError as error:
        wrong, _, right = error.problems["material"].partition(". ")
        plan.conflicts.append(Conflict("material", wrong, right))


def word(name: str, value: Any) -> str:
    if name == "kind":
        return str(System.Kind(value).label)
    if name == "hazard":
        return str(System.Hazard(value).label)
    return SUPPLY_WORDS.get(value, str(value))


def _listed(name: str, said: dict[Any, list[str]]) -> str:
    return "; ".join(f"{word(name, value)} ({_rows(rows)})" for value, rows in said.items())


def _rows(numbers: Iterable[str]) -> str:
    numbers = list(numbers)
    return f"row{'s' if len(numbers) > 1 else ''} {', '.join(map(str, numbers))}"
