"""A crew plan from a file to a file; both forms are told in docs/crews.md."""

import json
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils.translation import gettext

from scheduling.crews import (
    CrewPlan,
    InstanceError,
    Progress,
    plan_crews,
    plan_document,
    read_instance,
)


class Command(BaseCommand):
    help = "Plan which crew does which orders on which day, and prove how good the plan is."

    def add_arguments(self, parser):
        parser.add_argument("--instance", required=True, metavar="FILE", help="what to plan")
        parser.add_argument("--json", required=True, metavar="OUT", help="where the plan goes")

    def handle(self, **options: Any) -> None:
        data = _read(Path(options["instance"]))
        try:
            plan = plan_crews(read_instance(data), on_progress=self._report)
        except InstanceError as error:
            raise CommandError(f"{options['instance']}: {error}") from None
        text = json.dumps(plan_document(plan), indent=1, ensure_ascii=False) + "\n"
        try:
            Path(options["json"]).write_text(text, encoding="utf-8")
        except OSError as error:
            raise CommandError(
                gettext("--json {json}: {strerror}.").format(
                    json=options["json"], strerror=error.strerror
                )
            ) from None
        self.stdout.write("\n".join(summary(plan)))

    def _report(self, progress: Progress) -> None:
        if progress.gap is None:
            proven = "no bound yet"
        else:
            proven = f"bound {progress.bound:,}, gap {100 * progress.gap:.2f} %"
        self.stderr.write(f"{progress.stage}: value {progress.value:,}, {proven}")


def _read(path: Path) -> object:
    try:
        return json.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise CommandError(
            gettext("--instance {path}: {strerror}.").format(path=path, strerror=error.strerror)
        ) from None
    except ValueError as error:
        raise CommandError(
            gettext("--instance {path}: this is not JSON: {error}").format(path=path, error=error)
        ) from None


def summary(plan: CrewPlan) -> list[str]:
    instance, done = plan.problem.instance, sum(map(len, plan.routes.values()))
    lines = [
        f"{instance.name}: {done} of {len(instance.orders)} orders planned, "
        f"worth {plan.value:,} thousandths of a point.",
        f"By due date it would be {plan.due:,}, by cost of delay {plan.delay:,}.",
    ]
    if plan.is_optimal:
        lines.append("No plan is worth more.")
    elif plan.gap is None:
        lines.append("How far this is from the best plan is not known.")
    else:
        lines.append(f"No plan is worth more than {plan.bound:,}: {100 * plan.gap:.2f} % above.")
    if not instance.crews:
        lines.append("There is no crew, so nothing can be planned.")
    elif not plan.problem.shifts:
        lines.append("No crew works on any of these days, so nothing can be planned.")
    return lines
