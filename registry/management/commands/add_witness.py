"""Name a witness of an owner's log."""

from argparse import ArgumentParser

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone
from django.utils.translation import gettext

from registry.models import LogWitness, Organisation
from registry.proof.notes import COSIGNATURE, NoteError, Verifier
from registry.services.log import log_of


class Command(BaseCommand):
    help = "Ask a machine of somebody else to cosign the checkpoints of an owner's log."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("url", help="Where it listens, as https://witness.example")
        parser.add_argument("key", help="Its public key, as it prints it when it starts.")
        parser.add_argument("--owner", required=True, help="Name of the owner.")

    def handle(self, *args, **options) -> None:
        owner = Organisation.objects.filter(name=options["owner"], kind="owner").first()
        if owner is None:
            raise CommandError(
                gettext("This book has no owner “{owner}”.").format(owner=options["owner"])
            )
        if not options["url"].startswith(("http://", "https://")):
            raise CommandError(gettext("The address begins with https:// or http://."))
        try:
            kind = Verifier.from_vkey(options["key"]).kind
        except NoteError as error:
            raise CommandError(
                gettext("This is no key of a witness. {error}").format(error=error)
            ) from error
        if kind != COSIGNATURE:
            raise CommandError(
                gettext("This is the key of a log; a witness prints its own as it starts.")
            )
        log = log_of(owner, now=timezone.now())
        LogWitness.objects.update_or_create(
            log=log, vkey=options["key"], defaults={"url": options["url"]}
        )
        key = log.keys.order_by("-pk")[0].vkey
        self.stdout.write(f"Start the witness with --log {key}")
