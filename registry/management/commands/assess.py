"""Assess systems and print what came out: a table for people or, with --json, data."""

import json
from dataclasses import asdict
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone
from django.utils.translation import gettext

from registry.assess import Assessed, assess_cases, books_of, case_of, day_of, end_of, read_books
from registry.assess.case_files import case_file, scored
from registry.assess.changes import bridge_from
from registry.assess.details import Detail
from registry.assess.said import said
from registry.assess.written_case import judged, read_case
from registry.models import System


class Command(BaseCommand):
    help = (
        "Assess systems as at the end of a day, as the register knew them then, and print the "
        "result. Nothing is stored; `rescore` stores."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--system", metavar="TAG", help="this system alone")
        parser.add_argument(
            "--as-of", metavar="DATE", help="a day such as 2026-03-31; today unless given"
        )
        parser.add_argument("--json", action="store_true", help="print data instead of a table")

        parser.add_argument(
            "--case", metavar="FILE", help="a system and its ledger in a JSON file, in no database"
        )
        parser.add_argument(
            "--write-case",
            metavar="FILE",
            help="with --system: write that system as such a file instead of assessing it",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if options["case"]:
            self._judge(options["case"], is_data=options["json"])
            return
        systems = _systems(options["system"])
        day = _day(options["as_of"], timezone.now())
        if options["write_case"]:
            self._write_case(systems, day, options)
            return
        found: list[Assessed] = []
        for books in books_of(systems, end_of(day)):
            found += assess_cases([case for book in books if (case := case_of(book))])
        if options["json"]:
            is_one = bool(options["system"])
            told = [document(one, day) | (more_of(one) if is_one else {}) for one in found]
            self.stdout.write(json.dumps(told, indent=2))
        else:
            self.stdout.write("\n".join(table(found, day, is_long=bool(options["system"]))))

    def _judge(self, path: str, *, is_data: bool) -> None:
        try:
            written = json.loads(Path(path).read_text(encoding="utf-8"))
            found = judged(read_case(written, today=day_of(timezone.now())), more=scored)
        except OSError as error:
            raise CommandError(
                gettext("--case: {path} cannot be read: {strerror}.").format(
                    path=path, strerror=error.strerror
                )
            ) from error
        except ValueError as error:  # of JSON, or of what it holds
            raise CommandError(
                gettext("--case: {path}: {error}").format(path=path, error=error)
            ) from error
        if is_data:
            self.stdout.write(json.dumps(found, indent=2))
            return
        for name in ("atmosphere", "protection"):
            one = found[name]
            self.stdout.write(f"{name}: {one['state']} since {one['since']}. {one['reason']}")
        self.stdout.write("\n".join(_scored_lines(found)))

    def _write_case(self, systems: Any, day: date, options: dict[str, Any]) -> None:
        if not options["system"]:
            raise CommandError("--write-case: say which system with --system TAG.")
        if len(systems) > 1:
            raise CommandError(f"--system: {len(systems)} systems have this tag; one is needed.")
        written = case_file(read_books([systems[0].pk], end_of(day))[0])
        path = Path(options["write_case"])
        path.write_text(json.dumps(written, indent=1) + "\n", encoding="utf-8")
        self.stdout.write(f"{systems[0]} as at the end of {day} is in {path}.")


def _scored_lines(found: dict[str, Any]) -> list[str]:
    if found["score"] is None:
        return [f"score: none. {found.get('why_no_score', 'Outside the oxygen model.')}"]
    return [
        f"score: {found['score']:.1f}, {found['band']}; a leak within five years "
        f"{100 * found['leak_in_5_yr']:.1f} %, by model {found['model_version']}",
        *(f"  {reason['points']:+6.1f}  {reason['text']}" for reason in found["reasons"]),
        *(
            f"  run {run['run']}: {run['wall_left_mm']:.2f} mm left, {run['source']}"
            for run in found["runs"]
        ),
    ]


def _systems(tag: str | None):
    systems = System.objects.all()
    if tag is None:
        return systems
    if not (found := systems.filter(tag__iexact=tag)).exists():
        raise CommandError(gettext("--system: no system has the tag “{tag}”.").format(tag=tag))
    return found


def _day(given: str | None, now: datetime) -> date:
    today = day_of(now)
    if given is None:
        return today
    try:
        day = date.fromisoformat(given)
    except ValueError as error:
        raise CommandError(
            gettext("--as-of: “{given}” is not a day; write it as 2026-03-31.").format(given=given)
        ) from error
    if day > today:
        raise CommandError(
            gettext("--as-of: {day} lies in the future; the book ends today.").format(day=day)
        )
    return day


def document(one: Assessed, day: date) -> dict[str, Any]:
    system = one.case.book.system
    head = {"system": system.tag, "site": system.site.name, "uuid": str(system.uuid)}
    return head | {"as_of": day.isoformat()} | one.values


def more_of(one: Assessed) -> dict[str, Any]:
    """What takes longer to work out: points, where to measure, and why the score changed since the
    assessment before."""
    if not one.values["runs"]:
        return {}
    rows = one.case.book.system.assessments.filter(score__isnull=False)
    before = rows.filter(as_of__lt=day_of(one.case.book.known_at - timedelta(days=1)))
    earlier = before.order_by("-as_of", "-pk").first()
    steps = bridge_from(earlier, one.case) if earlier else ()
    return said(Detail(one.case)) | {
        "compared_with": earlier and {"as_of": str(earlier.as_of), "score": earlier.score},
        "why_it_changed": [asdict(step) for step in steps],
    }


def table(found: list[Assessed], day: date, *, is_long: bool) -> list[str]:
    rows = sorted(found, key=lambda one: -(one.values.get("score") or -1.0))
    head = f"{'system':12} {'site':16} {'score':>6}  {'band':8}  {'leak in 5 yr':>12}  life, years"
    lines = [f"As at the end of {day}", head]
    for one in rows:
        lines.append(_line(one))
        if is_long:
            lines += [f"  {reason['points']:+6.1f}  {reason['text']}" for reason in _reasons(one)]
    return lines


def _reasons(one: Assessed) -> list[dict[str, Any]]:
    return one.values.get("reasons", [])


def _line(one: Assessed) -> str:
    system, values = one.case.book.system, one.values
    name = f"{system.tag:12} {system.site.name:16}"
    if values["basis"] == "none":
        return f"{name} {'none':>6}  outside the oxygen model, and no field evidence"
    low, mid, high = (values[f"life_{part}_yr"] for part in ("low", "mid", "high"))
    return (
        f"{name} {values['score']:6.1f}  {values['band']:8}  "
        f"{100 * values['leak_in_5_yr']:10.1f} %  {mid:.0f} ({low:.0f} to {high:.0f})"
    )
