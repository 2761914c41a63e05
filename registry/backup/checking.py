"""Whether what was restored is the book that was backed up."""

from django.core.management import CommandError, call_command, get_commands

from registry.backup.archive import BackupError
from registry.chain import verify
from registry.models import Record, System
from registry.services.ledger import links

VERIFY = "verify_records"


def check(records: int) -> None:
    """Every record is there, and every chain, head and derived row agrees."""
    found = Record.objects.count()
    if found != records:
        raise BackupError(f"The backup says {records} records; {found} came out of it.")
    if VERIFY in get_commands():
        _verify()
        return
    for system in System.objects.iterator():
        if verify(links(system)):
            raise BackupError(f"The ledger of {system} does not agree with its chain.")


def _verify() -> None:
    try:
        call_command(VERIFY)
    except CommandError as error:
        raise BackupError(str(error)) from error
