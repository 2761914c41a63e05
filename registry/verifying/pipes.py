"""Pipe runs against the records that entered, corrected and took them back."""

from collections.abc import Iterator

from django.utils.translation import gettext as _

from registry.kinds.facts import PIPE_ENTERED, WITHDRAWN
from registry.models import PipeRun, Record
from registry.services.register.systems import PIPE_FACTS, facts_of
from registry.verifying.loading import Held
from registry.verifying.register import differing, words


def check_pipes(one: Held) -> Iterator[str]:
    entered = {row.pk: row for row in one.records if row.kind == PIPE_ENTERED.code}
    rows = {pipe.record_id: pipe for pipe in one.pipes if pipe.record_id in entered}
    if strangers := len(one.pipes) - len(rows):
        yield _("The register holds %(count)s pipe runs that no record entered.") % {
            "count": strangers
        }
    for key, record in entered.items():
        if key in rows:
            yield from _check_pipe(one, rows[key], record)
        else:
            yield _("The pipe run of record %(number)s is not in the register.") % {
                "number": record.sequence
            }


def _check_pipe(one: Held, pipe: PipeRun, record: Record) -> Iterator[str]:
    for name in differing(facts_of(pipe, PIPE_FACTS), record.details):
        yield _(
            "The pipe run of record %(number)s has “%(row)s” for %(fact)s, and the record says "
            "“%(said)s”."
        ) % {
            "number": record.sequence,
            "row": getattr(pipe, name),
            "fact": words(name),
            "said": record.details[name],
        }
    later = one.superseding.get(record.pk)
    if _corrected(one, pipe) != record.supersedes_id:
        yield _("The pipe run of record %(number)s stands for another one than it corrected.") % {
            "number": record.sequence
        }
    if pipe.is_withdrawn != (later is not None and later.kind == WITHDRAWN.code):
        yield _("Whether the pipe run of record %(number)s counts is not what the records say.") % {
            "number": record.sequence
        }


def _corrected(one: Held, pipe: PipeRun) -> int | None:
    """The record of the run that this one stands for; none where it stands for no other."""
    if pipe.supersedes_id is None:
        return None
    return next((row.record_id for row in one.pipes if row.pk == pipe.supersedes_id), -1)
