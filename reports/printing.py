"""What the papers of the book have in common beside their looks: words and the printed strip."""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from registry.models import System
from registry.pages.cautions import CAUTIONS
from registry.strip import Mark, Size, build_strip, describe, strip_svg_for_pdf
from registry.words.spoken import written

TYPEFACE = "Libertinus Serif"
NO_LINE_AT_THE_END = timedelta(seconds=1)  # the last day of a paper is not “today”
STRIP_YEARS = timedelta(days=731)
STRIP_SIZE = Size(680, 16, has_axis=True, has_letters=True)


def qr_code(text: str):
    """The text as a QR code (ISO/IEC 18004); None where it is longer than one code holds. Level L:
    it is printed large and read at once."""
    import segno  # here, since most requests make no document

    try:
        return segno.make_qr(text, error="l", mode="byte", encoding="utf-8", boost_error=False)
    except segno.DataOverflowError:
        return None


def qr_svg(text: str) -> str:
    """Black on white, with its quiet zone; empty where there is none."""
    code = qr_code(text)
    return code.svg_inline(dark="#000", light="#fff", border=4) if code else ""


def paper_size(units: str) -> str:
    return "us-letter" if units == "us" else "a4"


def moment_words(when: datetime, zone: ZoneInfo) -> str:
    local = when.astimezone(zone)
    return f"{written(local, '%-d %B %Y, %H:%M')} {local:%Z}"


def printed_cautions(*names: str) -> tuple[tuple[str, str], ...]:
    return tuple((CAUTIONS[name].title, CAUTIONS[name].do) for name in names)


def atmosphere_words(system: System, until: datetime) -> str:
    spans = [span for span in system.spans.all() if span.starts_at <= until]
    return describe(spans, now=until, since=until - STRIP_YEARS, day=system.day_words)


def printed_strip(system: System, until: datetime) -> str:
    """The two years that led to `until`, as the ledger tells them."""
    spans = [span for span in system.spans.all() if span.starts_at <= until]
    records = system.records.current().filter(occurred_at__lte=until).in_order()
    marks = [Mark(row.occurred_at, row.kind, str(row.definition.label)) for row in records]
    drawn = build_strip(
        spans, marks, start=until - STRIP_YEARS, end=until, now=until + NO_LINE_AT_THE_END,
        size=STRIP_SIZE, zone=system.site.zone,
    )  # fmt: skip
    return strip_svg_for_pdf(drawn, "Atmosphere of the system", font=TYPEFACE)
