"""Import a register of systems and pipe runs from CSV or XLSX."""

import sys
from contextlib import nullcontext
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone
from tqdm import tqdm

from registry.imports.answers import ADD, LEAVE, Answers
from registry.imports.load import ImportOutcome, run_import
from registry.imports.problems import ImportFileError
from registry.imports.reader import MAX_ROWS, count_rows
from registry.models import Organisation, User

ROWS_LEFT = 2  # exit code when rows came back to be mended
GROUPS_SHOWN = 40


class Command(BaseCommand):
    help = (
        "Import a register. Good rows are loaded, bad rows are listed with what would be right; "
        "importing the same file again changes nothing. "
        f"Exit code 0: every row is in the register; {ROWS_LEFT}: rows need mending; 1: not read."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", metavar="FILE", help="CSV or XLSX")
        parser.add_argument("--owner", help="name of the owner; needed when there are several")
        parser.add_argument("--by", metavar="EMAIL", help="who is recorded as having entered it")
        parser.add_argument("--dry-run", action="store_true", help="say what would happen, no more")
        parser.add_argument(
            "--date-order", choices=["dmy", "mdy"], help="how to read dates such as 3/4/2001"
        )
        parser.add_argument("--length-unit", help="for lengths without a unit, for example ft")
        parser.add_argument(
            "--add-similar", action="store_true",
            help="add runs that resemble one in the register, instead of giving them back",
        )  # fmt: skip
        parser.add_argument("--rows-to-mend", metavar="OUT.csv", help="write the bad rows here")

    def handle(self, *args: Any, **options: Any) -> None:
        owner = _owner(options["owner"], is_dry=options["dry_run"])
        outcome = self._run(owner, options)
        self._report(outcome, options)
        if outcome.mend:
            sys.exit(ROWS_LEFT)

    def _run(self, owner: Organisation | None, options: dict[str, Any]) -> ImportOutcome:
        path = options["file"]
        mend = options["rows_to_mend"]
        try:
            total = 2 * count_rows(path, up_to=MAX_ROWS + 1)
            with (
                open(mend, "w", encoding="utf-8-sig", newline="") if mend else nullcontext() as out,
                tqdm(total=total, unit=" rows", disable=None) as bar,
            ):
                return run_import(
                    path,
                    owner=owner,
                    answers=_answers(options),
                    now=timezone.now(),
                    recorded_by=None if options["dry_run"] else _recorded_by(options["by"]),
                    source=Path(path).name,
                    mend_to=out,
                    on_rows=bar.update,
                )
        except ImportFileError as error:
            raise CommandError(str(error)) from error
        except OSError as error:
            raise CommandError(f"{mend} cannot be written: {error.strerror}.") from error

    def _report(self, outcome: ImportOutcome, options: dict[str, Any]) -> None:
        say = self.stdout.write
        say(_summary(outcome, is_dry=options["dry_run"]))
        for notice in outcome.notices:
            say(f"Note: {notice}")
        for group in outcome.groups[:GROUPS_SHOWN]:
            rows = ", ".join(map(str, group.rows)) + (
                " ..." if group.count > len(group.rows) else ""
            )
            typed = f" “{'”, “'.join(group.typed)}”" if group.typed else ""
            say(f"Rows {rows}: {group.column}{typed}: {group.wrong}. {group.right}")
        if len(outcome.groups) > GROUPS_SHOWN:
            hidden = len(outcome.groups) - GROUPS_SHOWN
            say(f"{hidden} further kinds of problem: see --rows-to-mend.")
        if outcome.questions:
            say(f"{len(outcome.questions)} things are left open; the import page asks about them.")
        if outcome.mend and options["rows_to_mend"]:
            say(f"The {outcome.mend} rows to mend are in {options['rows_to_mend']}.")


def _summary(outcome: ImportOutcome, *, is_dry: bool) -> str:
    would = "would be loaded" if is_dry else "loaded"
    return (
        f"{outcome.rows} rows: {outcome.new} {would}, {outcome.known} in the register already, "
        f"{outcome.mend} to mend."
        f" Systems: {outcome.systems_new} new, {outcome.systems_known} known."
        f" Sites: {len(outcome.sites_new)} new."
    )


def _answers(options: dict[str, Any]) -> Answers:
    return Answers(
        date_order=options["date_order"],
        length_unit=options["length_unit"],
        similar=ADD if options["add_similar"] else LEAVE,
    )


def _owner(name: str | None, *, is_dry: bool) -> Organisation | None:
    owners = Organisation.objects.filter(kind=Organisation.Kind.OWNER)
    names = ", ".join(f"“{owner}”" for owner in owners) or "none yet"
    if name:
        owner = owners.filter(name__iexact=name).first()
        if owner is None:
            raise CommandError(f"No owner is called “{name}”. Owners: {names}.")
        return owner
    if len(owners) == 1:
        return owners[0]
    if is_dry and not owners:
        return None
    raise CommandError(f"Say whose register this is with --owner NAME. Owners: {names}.")


def _recorded_by(email: str | None) -> User:
    """The person named, or an entry that says plainly that a command did it, and cannot sign in."""
    if email:
        user = User.objects.filter(email__iexact=email).first()
        if user is None:
            raise CommandError(f"Nobody here has the address {email}.")
        return user
    user, made = User.objects.get_or_create(
        email="import-command@riserbook.invalid",
        defaults={"name": "Import by command", "is_active": False},
    )
    if made:
        user.set_unusable_password()
        user.save(update_fields=["password"])
    return user
