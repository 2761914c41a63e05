"""Cosignatures of machines of somebody else, collected for a checkpoint (C2SP `tlog-witness`)."""

import logging
from collections.abc import Callable
from datetime import datetime
from http.client import HTTPException
from urllib.error import HTTPError
from urllib.request import Request as HttpRequest
from urllib.request import urlopen

from django.db import transaction

from registry.models import LogCheckpoint, LogWitness
from registry.proof.checkpoints import NUMBER, Checkpoint
from registry.proof.notes import NoteError, Signature, Verifier, parse_note
from registry.proof.tree import consistency_proof
from registry.proof.witness import Request
from registry.services.log import reader

log = logging.getLogger(__name__)

TIMEOUT_S = 10
LONGEST = 10_000
OK, CONFLICT = 200, 409
Post = Callable[[str, str], tuple[int, str]]
"""To an address, a text; what came back: status and text."""


class WitnessError(Exception):
    """What a witness answered instead of a cosignature; the next checkpoint asks it again."""


def post(url: str, text: str) -> tuple[int, str]:
    """Addresses come from whoever runs the book, by a command, and from nobody else."""
    if not url.startswith(("http://", "https://")):
        raise WitnessError("Its address begins with neither https:// nor http://.")
    request = HttpRequest(url, text.encode(), {"Content-Type": "text/plain"}, method="POST")
    try:
        with urlopen(request, timeout=TIMEOUT_S) as answer:  # nosec B310
            return answer.status, answer.read(LONGEST).decode()
    except HTTPError as error:
        return error.code, error.read(LONGEST).decode(errors="replace")


def ask_witnesses(checkpoint: LogCheckpoint, now: datetime, send: Post = post) -> int:
    """Each witness of the log that has not cosigned this far; returns how many did now. No lock is
    held meanwhile, and a witness that is away keeps nobody waiting longer than its time."""
    count = 0
    for witness in checkpoint.log.witnesses.filter(size__lt=checkpoint.size):
        try:
            _add(checkpoint, witness, _cosigned(checkpoint, witness, send))
            witness.size, witness.error = checkpoint.size, ""
            count += 1
        except (WitnessError, NoteError, OSError, HTTPException, ValueError) as error:
            witness.error = str(error)[:300]
            log.warning("log.not_cosigned witness=%s: %s", witness, error)
        witness.asked_at = now
        witness.save(update_fields=["size", "error", "asked_at"])
    return count


def _cosigned(checkpoint: LogCheckpoint, witness: LogWitness, send: Post) -> Signature:
    url = f"{witness.url.rstrip('/')}/add-checkpoint"
    status, body = send(url, _asked(checkpoint, witness.size))
    if status == CONFLICT and NUMBER.fullmatch(body.strip()):
        old = int(body)  # it remembers better than this book, after a restore
        if old > checkpoint.size:
            raise WitnessError(
                f"It has seen {old} records of this log, and the book has {checkpoint.size}."
            )
        status, body = send(url, _asked(checkpoint, old))
    if status != OK:
        raise WitnessError(f"It answered {status}: {body.strip()[:200]}")
    key = Verifier.from_vkey(witness.vkey)
    note = parse_note(parse_note(checkpoint.note).text + "\n" + body)
    note.verified([key])
    return next(one for one in note.signatures if one.is_by(key))


def _asked(checkpoint: LogCheckpoint, old: int) -> str:
    note = parse_note(checkpoint.note)
    proof = consistency_proof(old, checkpoint.size, reader(checkpoint.log)) if old else []
    return str(Request(old, tuple(proof), note, Checkpoint.from_text(note.text)))


@transaction.atomic
def _add(checkpoint: LogCheckpoint, witness: LogWitness, cosignature: Signature) -> None:
    held = LogCheckpoint.objects.select_for_update().get(pk=checkpoint.pk)
    held.note = str(parse_note(held.note).signed(cosignature))
    held.save(update_fields=["note"])
    checkpoint.note = held.note
