"""Stored stretches of the atmosphere against what the records give when derived again."""

from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from math import isclose

from django.utils import timezone
from django.utils.translation import gettext as _

from registry.atmosphere import Span, derive
from registry.atmosphere_rows.system_ledger import HORIZON, ledger_items, system_facts
from registry.models import AtmosphereSpan, PipeRun
from registry.verifying.loading import Held

WORDS = ("state", "state_since", "reason_code", "reason", "cause_id")
NUMBERS = ("oxygen_low", "oxygen_mid", "oxygen_high")
DUST = 1e-9
"""Volumes are added up by the database or here, and their last digits differ."""


def check_spans(one: Held) -> Iterator[str]:
    """Stored spans reach as far ahead as on the day of the last record at least, and may reach as
    far ahead as today."""
    if not one.records:
        return
    derived = _derived(one)
    for stored, span in zip(one.spans, derived, strict=False):
        if not _is_same(stored, span):
            yield _(
                "The atmosphere kept from %(when)s is “%(row)s”, and the records give “%(said)s” "
                "from %(since)s."
            ) % {
                "when": day(stored.starts_at),
                "row": stored.reason,
                "said": span.reason,
                "since": day(span.starts_at),
            }
            return  # what follows a first difference differs for that reason
    yield from _wrong_number(one, derived)


def _wrong_number(one: Held, derived: Sequence[Span]) -> Iterator[str]:
    count = len(one.spans)
    if count > len(derived):
        yield _("The atmosphere kept from %(when)s is not what the records give.") % {
            "when": day(one.spans[len(derived)].starts_at)
        }
    known_until = max(row.recorded_at for row in one.records) + HORIZON
    if count < len(derived) and derived[count].starts_at <= known_until:
        yield _("The atmosphere that the records give from %(when)s is not kept.") % {
            "when": day(derived[count].starts_at)
        }


def _derived(one: Held) -> Sequence[Span]:
    facts = system_facts(one.system, volume_m3=_volume(one))
    return derive(facts, ledger_items(one.current), timezone.now() + HORIZON)


def _volume(one: Held) -> float:
    if one.system.volume_override_m3:
        return one.system.volume_override_m3
    return sum(pipe.volume_m3 for pipe in _current(one.pipes))


def _current(pipes: Sequence[PipeRun]) -> list[PipeRun]:
    gone = {pipe.supersedes_id for pipe in pipes}
    return [pipe for pipe in pipes if pipe.pk not in gone and not pipe.is_withdrawn]


def _is_same(stored: AtmosphereSpan, span: Span) -> bool:
    return (
        stored.starts_at == span.starts_at
        and all(getattr(stored, name) == getattr(span, name) for name in WORDS)
        and all(
            isclose(getattr(stored, name), getattr(span, name), rel_tol=DUST, abs_tol=DUST)
            for name in NUMBERS
        )
    )


def day(when: datetime) -> str:
    return f"{when.astimezone(UTC):%Y-%m-%d %H:%M} UTC"
