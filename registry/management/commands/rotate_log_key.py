"""Put another key in place of the one that signs an owner's log."""

from argparse import ArgumentParser

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from registry.models import Organisation, User
from registry.proof.notes import Verifier
from registry.services.log import LogError
from registry.services.log_handing import rotate_key
from registry.services.log_keys import LogKeyError


class Command(BaseCommand):
    help = "Let another key sign an owner's log from now on; both keys sign that it does."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--owner", required=True, help="Name of the owner.")
        parser.add_argument("--by", required=True, help="Mail address of whoever decided it.")

    def handle(self, *args, **options) -> None:
        owner = Organisation.objects.filter(name=options["owner"], kind="owner").first()
        if owner is None:
            raise CommandError(f"This book has no owner “{options['owner']}”.")
        person = User.objects.filter(email__iexact=options["by"]).first()
        if person is None:
            raise CommandError(f"This book has no person “{options['by']}”.")
        try:
            key = rotate_key(owner, by=person, now=timezone.now())
        except (LogError, LogKeyError) as error:
            raise CommandError(f"Nothing was changed. {error}") from error
        self.stdout.write(f"From record {key.size} of the log on, this key signs:\n{key.vkey}")
        self.stdout.write(
            "Tell its fingerprint to those who check, and the key to each witness:\n"
            f"{Verifier.from_vkey(key.vkey).fingerprint}"
        )
