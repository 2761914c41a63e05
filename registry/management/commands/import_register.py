"""Import a register of systems and pipe runs from CSV or XLSX."""

import json
import sys
from contextlib import nullcontext
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone
from django.utils.translation import gettext, ngettext
from tqdm import tqdm

from registry.imports.answers import ADD, APART, LEAVE, REPEAT, TO_FIX, TOGETHER, Answers, word_key
from registry.imports.columns import BY_NAME
from registry.imports.dates import ORDERS, read_date
from registry.imports.editions import offered
from registry.imports.load import run_import
from registry.imports.numerals import FORMS
from registry.imports.outcome import ImportOutcome
from registry.imports.problems import CellError, ImportFileError
from registry.imports.vocabulary import ASK
from registry.imports.write import INSTALLED
from registry.models import Organisation, User
from registry.translation import _

ROWS_LEFT = 2  # exit code when rows came back to be fixed
GROUPS_SHOWN = 40


class Command(BaseCommand):
    help = _(
        "Import a register. Good rows are loaded, bad rows are listed with what "
        "would be right; importing the same file again changes nothing. Exit "
        "code 0: every row is in the register; %(ROWS_LEFT)s: rows are to be "
        "fixed; 1: not read."
    ) % {"ROWS_LEFT": ROWS_LEFT}

    def add_arguments(self, parser: CommandParser) -> None:
        add = parser.add_argument
        add("file", metavar="FILE", help=gettext("CSV or XLSX"))
        add("--owner", help=gettext("name of the owner; needed when there are several"))
        add("--by", metavar="EMAIL", help=gettext("who is recorded as having entered it"))
        add("--dry-run", action="store_true", help=gettext("say what would happen, no more"))
        add("--json", action="store_true", help=gettext("print the outcome as JSON"))
        add(
            "--rows-to-fix",
            metavar="OUT.csv",
            help=gettext("write the rows that did not load here"),
        )
        answers = parser.add_argument_group(gettext("answers to what a file leaves open"))
        add = answers.add_argument
        add("--sheet", metavar="NAME", help=gettext("the sheet to read; * for all that look alike"))
        add("--header-row", type=int, metavar="N", help=gettext("the row that names the columns"))
        add(
            "--column",
            action="append",
            default=[],
            metavar="NAME=HEADING",
            help=(
                gettext(
                    "the column of the file that is this column of the book: %(listed)s. "
                    "“=HEADING” leaves a column out."
                )
                % {"listed": ", ".join(BY_NAME)}
            ),
        )
        add(
            "--word",
            action="append",
            default=[],
            metavar="FIELD:TYPED=OURS",
            help=gettext(
                "what a word means, for example material:GI=galvanized_steel; leave_out "
                "for rows that are no pipe of the book"
            ),
        )
        add(
            "--blank",
            action="append",
            default=[],
            metavar="NAME=VALUE",
            help=gettext("what holds where a column is empty or missing, for example site=Mill"),
        )
        add(
            "--blanks-above",
            choices=[REPEAT, TO_FIX],
            help=gettext("rows without a system go on above?"),
        )
        add(
            "--same-tags",
            choices=[TOGETHER, APART],
            help=gettext("a tag found in two buildings: one system, or two"),
        )
        add("--decimal", choices=FORMS, help=gettext("which sign parts the decimals"))
        add("--date-order", choices=ORDERS, help=gettext("how to read dates such as 3/4/2001"))
        add(
            "--length-unit",
            metavar="UNIT",
            help=gettext("for lengths without a unit, for example ft"),
        )
        add(
            "--unit",
            action="append",
            default=[],
            metavar="NAME=UNIT",
            help=gettext(
                "for another column without a unit, for example wall=mm or nominal_size=DN"
            ),
        )
        add(
            "--leaks-known-since",
            metavar="DAY",
            help=(
                gettext(
                    "since when leaks of these systems would be known: a day, a year, or "
                    "%(INSTALLED)s"
                )
                % {"INSTALLED": INSTALLED}
            ),
        )
        add(
            "--adopted-edition",
            choices=[code for code, _title in offered()],
            metavar="CODE",
            help=gettext("the edition adopted at the sites that have none yet: ")
            + ", ".join(code for code, _title in offered()),
        )
        add(
            "--add-similar",
            action="store_true",
            help=gettext("add runs that resemble one in the register, instead of giving them back"),
        )

    def handle(self, *args: Any, **options: Any) -> None:
        owner = _owner(options["owner"], is_dry=options["dry_run"])
        outcome = self._run(owner, options)
        if options["json"]:
            self.stdout.write(json.dumps(_as_json(outcome, options), indent=2, ensure_ascii=False))
        else:
            self._report(outcome, options)
        if outcome.to_fix:
            sys.exit(ROWS_LEFT)

    def _run(self, owner: Organisation | None, options: dict[str, Any]) -> ImportOutcome:
        path, to_fix = options["file"], options["rows_to_fix"]
        bar: Any = tqdm(unit=" rows", disable=True if options["json"] else None)
        try:
            with (
                open(to_fix, "w", encoding="utf-8-sig", newline="")
                if to_fix
                else nullcontext() as out,
                bar,
            ):
                return run_import(
                    path,
                    owner=owner,
                    answers=answers_of(options),
                    now=timezone.now(),
                    recorded_by=None if options["dry_run"] else _recorded_by(options["by"]),
                    source=Path(path).name,
                    to_fix=out,
                    on_rows=bar.update,
                    on_count=lambda rows: bar.reset(total=2 * rows),
                )
        except ImportFileError as error:
            raise CommandError(str(error)) from error
        except OSError as error:
            raise CommandError(
                gettext("%(to_fix)s cannot be written: %(strerror)s.")
                % {"to_fix": to_fix, "strerror": error.strerror}
            ) from error

    def _report(self, outcome: ImportOutcome, options: dict[str, Any]) -> None:
        say = self.stdout.write
        say(_summary(outcome, is_dry=options["dry_run"]))
        for notice in outcome.notices:
            say(gettext("Note: %(notice)s") % {"notice": notice})
        for group in outcome.groups[:GROUPS_SHOWN]:
            rows = ", ".join(group.rows) + (" ..." if group.count > len(group.rows) else "")
            typed = f" “{'”, “'.join(group.typed)}”" if group.typed else ""
            where = gettext("Rows %(rows)s: %(column)s") % {"rows": rows, "column": group.column}
            say(f"{where}{typed}: {group.wrong}. {group.right}")
        if len(outcome.groups) > GROUPS_SHOWN:
            hidden = len(outcome.groups) - GROUPS_SHOWN
            say(
                gettext("%(hidden)s further kinds of problem: see --rows-to-fix.")
                % {"hidden": hidden}
            )
        for question in outcome.questions:
            how = question.option or gettext("the import page")
            say(gettext("Open: %(words)s") % {"words": question.words})
            if question.rows:
                rows = ngettext(
                    "  %(count)s row waits for it.", "  %(count)s rows wait for it.", question.rows
                )
                say(rows % {"count": question.rows})
            say(gettext("  Answer with %(how)s.") % {"how": how})
        if outcome.to_fix and options["rows_to_fix"]:
            say(
                gettext("The %(to_fix)s rows to fix are in %(options)s.")
                % {"to_fix": outcome.to_fix, "options": options["rows_to_fix"]}
            )


def _summary(outcome: ImportOutcome, *, is_dry: bool) -> str:
    counts = {
        "rows": outcome.rows, "new": outcome.new, "known": outcome.known,
        "to_fix": outcome.to_fix, "left_out": outcome.left_out,
        "systems_new": outcome.systems_new, "systems_known": outcome.systems_known,
        "sites_new": len(outcome.sites_new),
    }  # fmt: skip
    if is_dry:
        rows = gettext(
            "%(rows)s rows: %(new)s would be loaded, %(known)s in the register already, "
            "%(to_fix)s to fix."
        )
    else:
        rows = gettext(
            "%(rows)s rows: %(new)s loaded, %(known)s in the register already, %(to_fix)s to fix."
        )
    lines = [rows]
    if outcome.left_out:
        lines.append(gettext("Left out as you said: %(left_out)s."))
    lines.append(
        gettext("Systems: %(systems_new)s new, %(systems_known)s known. Sites: %(sites_new)s new.")
    )
    return " ".join(line % counts for line in lines)


def _as_json(outcome: ImportOutcome, options: dict[str, Any]) -> dict[str, Any]:
    """`rows` counts those of the table: totals and lines of text above or below are no rows."""
    loaded = "would_load" if options["dry_run"] else "loaded"
    found = outcome.to_json()
    names = (
        "known",
        "to_fix",
        "left_out",
        "waiting",
        "systems_new",
        "systems_known",
        "sites_new",
        "questions",
        "notices",
        "groups",
        "fields",
        "words",
        "sheets",
        "header_row",
    )
    return {"rows": outcome.rows, loaded: outcome.new, **{name: found[name] for name in names}}


def answers_of(options: dict[str, Any]) -> Answers:
    columns = {heading: name for name, heading in _pairs(options["column"], "--column")}
    for name in [name for name in columns.values() if name and name not in BY_NAME]:
        raise CommandError(
            gettext("--column: “%(name)s” is not one of %(listed)s.")
            % {"name": name, "listed": ", ".join(BY_NAME)}
        )
    return Answers(
        sheet=options["sheet"],
        header_row=options["header_row"],
        columns=columns,
        words=dict(_word(left, ours) for left, ours in _pairs(options["word"], "--word")),
        blank=dict(_pairs(options["blank"], "--blank")),
        blanks_above=options["blanks_above"],
        same_tags=options["same_tags"],
        decimal=options["decimal"],
        date_order=options["date_order"],
        length_unit=options["length_unit"],
        units=dict(_pairs(options["unit"], "--unit")),
        leaks_known_since=_since(options["leaks_known_since"]),
        adopted_edition=options["adopted_edition"],
        similar=ADD if options["add_similar"] else LEAVE,
    )


def _pairs(texts: list[str], option: str) -> list[tuple[str, str]]:
    pairs = []
    for text in texts:
        left, sign, right = text.rpartition("=") if option == "--word" else text.partition("=")
        if not sign:
            raise CommandError(
                gettext("%(option)s %(text)s: write it as LEFT=RIGHT.")
                % {"option": option, "text": text}
            )
        pairs.append((left.strip(), right.strip()))
    return pairs


def _word(left: str, ours: str) -> tuple[str, str]:
    field, sign, typed = left.partition(":")
    if not sign or field not in BY_NAME:
        raise CommandError(
            gettext("--word %(left)s=%(ours)s: write it like material:GI=galvanized_steel.")
            % {"left": left, "ours": ours}
        )
    key = f"{field}:{typed}" if typed.startswith(ASK) else word_key(field, typed)
    return key, ours


def _since(typed: str | None) -> str | None:
    if typed and typed != INSTALLED:
        try:
            read_date(typed, today=timezone.now().date())
        except CellError as error:
            raise CommandError(
                gettext("--leaks-known-since %(typed)s: %(wrong)s. %(right)s")
                % {"typed": typed, "wrong": error.wrong, "right": error.right}
            ) from None
    return typed


def _owner(name: str | None, *, is_dry: bool) -> Organisation | None:
    owners = Organisation.objects.filter(kind=Organisation.Kind.OWNER)
    names = ", ".join(f"“{owner}”" for owner in owners) or gettext("none yet")
    if name:
        owner = owners.filter(name__iexact=name).first()
        if owner is None:
            raise CommandError(
                gettext("No owner is called “%(name)s”. Owners: %(names)s.")
                % {"name": name, "names": names}
            )
        return owner
    if len(owners) == 1:
        return owners[0]
    if is_dry and not owners:
        return None
    raise CommandError(
        gettext("Say whose register this is with --owner NAME. Owners: %(names)s.")
        % {"names": names}
    )


def _recorded_by(email: str | None) -> User:
    """The person named, or an entry that says plainly that a command did it, and cannot sign in."""
    if email:
        user = User.objects.filter(email__iexact=email).first()
        if user is None:
            raise CommandError(gettext("Nobody here has the address %(email)s.") % {"email": email})
        return user
    user, made = User.objects.get_or_create(
        email="import-command@riserbook.invalid",
        defaults={"name": gettext("Import by command"), "is_active": False},
    )
    if made:
        user.set_unusable_password()
        user.save(update_fields=["password"])
    return user
