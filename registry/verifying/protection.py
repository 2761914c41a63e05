"""Stored stretches of protection against what the records give when derived again."""

from collections.abc import Iterator, Sequence
from itertools import zip_longest

from django.utils.translation import gettext as _

from registry import protection
from registry.atmosphere_rows.system_ledger import installation, protection_items
from registry.models import ProtectionSpan
from registry.services.derive import PROTECTION_FACTS, protection_rows
from registry.verifying.loading import Held
from registry.verifying.spans import day


def check_protection(one: Held) -> Iterator[str]:
    """Time alone changes nothing, so the rows are the same on every day."""
    pairs = zip_longest(one.protection_spans, _derived(one))
    first = next(((kept, said) for kept, said in pairs if not _is_same(kept, said)), None)
    if first is None:
        return
    kept, said = first  # what follows a first difference differs for that reason
    if said is None:
        yield _("The protection kept from %(when)s is not what the records give.") % {
            "when": day(kept.starts_at)
        }
    elif kept is None:
        yield _("The protection that the records give from %(when)s is not kept.") % {
            "when": day(said.starts_at)
        }
    else:
        yield _(
            "The protection kept from %(when)s is “%(row)s”, and the records give “%(said)s” from "
            "%(since)s."
        ) % {
            "when": day(kept.starts_at),
            "row": kept.reason,
            "said": said.reason,
            "since": day(said.starts_at),
        }


def _derived(one: Held) -> Sequence[ProtectionSpan]:
    if not one.records:
        return []
    spans = protection.derive(installation(one.system), protection_items(one.current), _later(one))
    return protection_rows(one.system, spans)


def _later(one: Held) -> dict[int, int]:
    """By the number of a record the number of the one that corrects it or takes it back."""
    return {
        row.sequence: one.superseding[row.pk].sequence
        for row in one.records
        if row.pk in one.superseding
    }


def _is_same(kept: ProtectionSpan | None, said: ProtectionSpan | None) -> bool:
    return (
        kept is not None
        and said is not None
        and all(getattr(kept, name) == getattr(said, name) for name in PROTECTION_FACTS)
    )
