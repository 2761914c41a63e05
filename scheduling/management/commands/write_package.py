"""Write a package of records that an outsider checks with the verify.py in it."""

from argparse import ArgumentParser
from datetime import UTC, date, datetime, time
from functools import partial
from pathlib import Path

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone
from django.utils.translation import gettext

from registry.kinds import KINDS
from registry.models import Organisation, User
from registry.services.log import LogError
from registry.services.log_keys import LogKeyError
from registry.services.packages import Scope, write_package
from scheduling.verifying.packaged import everything_beside


class Command(BaseCommand):
    help = "Write a package of an owner's records, with proofs and the program that checks it."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="The ZIP to write; it must not be there yet.")
        parser.add_argument("--owner", required=True, help="Name of the owner.")
        parser.add_argument("--by", required=True, help="Mail address of the person who asks.")
        parser.add_argument("--site", action="append", default=[], help="Only this site.")
        parser.add_argument("--system", action="append", default=[], help="Only this tag.")
        parser.add_argument("--kind", action="append", default=[], choices=sorted(KINDS))
        parser.add_argument(
            "--from", dest="since", type=_day, help="Happened on this day or after."
        )
        parser.add_argument("--to", dest="until", type=_day, help="Happened before this day.")

    def handle(self, *args, **options) -> None:
        scope = Scope(
            owner=_named(Organisation, "owner", name=options["owner"], kind="owner"),
            sites=tuple(options["site"]),
            systems=tuple(options["system"]),
            since=options["since"],
            until=options["until"],
            kinds=tuple(options["kind"]),
        )
        by = _named(User, "person", email=options["by"])
        if not scope.owner.sites.exists():
            raise CommandError(
                gettext("{owner} has no site, so there is nothing to write.").format(
                    owner=scope.owner
                )
            )
        now = timezone.now()
        try:
            with options["file"].open("xb") as out:
                digest = write_package(
                    out,
                    scope=scope,
                    made_by=by,
                    now=now,
                    more=partial(everything_beside, now=now),
                )
        except FileExistsError as error:
            raise CommandError(
                gettext("{file} is there already; choose another name.").format(
                    file=options["file"]
                )
            ) from error
        except (LogError, LogKeyError) as error:
            options["file"].unlink()
            raise CommandError(str(error)) from error
        self.stdout.write(f"{options['file']} is written. SHA-256 of its manifest: {digest}")


def _named(model, what: str, **facts):
    found = model.objects.filter(**facts).first()
    if found is None:
        raise CommandError(
            gettext("This book has no {what} “{name}”.").format(
                what=what, name=next(iter(facts.values()))
            )
        )
    return found


def _day(text: str) -> datetime:
    return datetime.combine(date.fromisoformat(text), time.min, tzinfo=UTC)
