"""What a crew plan buys: due-date order, cost-of-delay order, plan and bound of invented weeks."""

import json
from collections.abc import Sequence
from pathlib import Path
from time import process_time

from scheduling.crews import CrewPlan, plan_crews, read_instance
from tests.benchmarks.tables import Table
from tests.scheduling.crews.made_instances import made_instance

CREWS = {
    12: (2, 1),
    40: (3, 5),
    60: (4, 5),
    120: (6, 5),
    300: (10, 10),
}  # crews and days for so many orders
SEED = 1


def measure(orders: int) -> tuple[CrewPlan, float]:
    crews, days = CREWS.get(orders, (max(1, orders // 20), 5))
    return _planned(made_instance(orders, crews, days, SEED, fixed=orders // 15))


def measure_file(path: str) -> tuple[CrewPlan, float]:
    """A week as `manage.py plan_crews` reads it."""
    return _planned(json.loads(Path(path).read_text(encoding="utf-8")))


def _planned(data: object) -> tuple[CrewPlan, float]:
    begun = process_time()
    return plan_crews(read_instance(data)), process_time() - begun


def table(found: Sequence[tuple[CrewPlan, float]]) -> Table:
    return Table(
        title="Crew plans",
        heads=(
            "orders / crews / days",
            "due-date order",
            "cost-of-delay order",
            "plan",
            "bound",
            "gap %",
            "over due %",
            "over delay %",
            "done, delay order",
            "done, plan",
            "CPU s",
        ),
        rows=[_row(plan, seconds) for plan, seconds in found],
        note="Values in thousandths of a score point; no plan is worth more than the bound.",
    )


def _row(plan: CrewPlan, seconds: float) -> tuple[str, ...]:
    instance = plan.problem.instance
    done = sum(map(len, plan.routes.values()))
    return (
        f"{len(instance.orders)} / {len(instance.crews)} / {len(instance.days)}",
        f"{plan.due:,}",
        f"{plan.delay:,}",
        f"{plan.value:,}",
        "none" if plan.bound is None else f"{plan.bound:,}",
        "not known" if plan.gap is None else f"{100 * plan.gap:.2f}",
        _over(plan.value, plan.due),
        _over(plan.value, plan.delay),
        str(plan.delay_done),
        str(done),
        f"{seconds:.1f}",
    )


def _over(value: int, other: int) -> str:
    return f"{100 * (value - other) / max(1, abs(other)):.1f}"
