"""What the ledger says of an entry that came from a phone later than it was made."""

from collections.abc import Iterable, Iterator

from django.utils.translation import gettext

from registry.models import Record


def kept_words(record: Record) -> str:
    """Empty unless its writer did not know all of the ledger. Costs a query where `kept_entry` is
    not selected along."""
    entry = getattr(record, "kept_entry", None)
    if entry is None:
        return ""
    if not entry.is_seen_here:
        return gettext("Written on a phone that had seen another ledger than this one.")
    spans = list(_spans(entry.unknown))
    if not spans:
        return ""
    if entry.unknown == [spans[0][0]]:
        return gettext("Written without knowing record {first}.").format(first=spans[0][0])
    told = [f"{first}" if first == last else f"{first}–{last}" for first, last in spans]
    if len(spans) == 1:
        return gettext("Written without knowing records {first} to {last}.").format(
            first=spans[0][0], last=spans[0][1]
        )
    return gettext("Written without knowing records {records}.").format(records=", ".join(told))


def _spans(numbers: Iterable[int]) -> Iterator[tuple[int, int]]:
    """Numbers in order, those that follow each other together."""
    found: list[int] = []
    for number in numbers:
        if found and number != found[-1] + 1:
            yield found[0], found[-1]
            found = []
        found.append(number)
    if found:
        yield found[0], found[-1]
