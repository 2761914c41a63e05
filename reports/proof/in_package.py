"""What a package holds for reading: a workbook, a report on paper, the certificates."""

from collections.abc import Iterable, Iterator, Sequence
from itertools import islice
from tempfile import TemporaryFile

from django.utils.text import slugify
from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell

from registry.models import InertingRun
from registry.proof.package import Line
from registry.services.packages import COLUMNS, Extra, Source
from reports.certificate.paper import CERTIFIED, certificate_of
from reports.kept.asked import Asked
from reports.kept.collecting import Collected
from reports.kept.portfolio import paper_of
from reports.proof.paper import report_of
from scheduling.verifying.schedule_rows import DEMANDED, demand_cells, demands

MOST_ROWS = 100_000
"""A sheet ends at 1,048,576 rows; far before that, no spreadsheet program is of use."""
MOST_CELL = 32_767  # characters, ECMA-376
MOST_CERTIFICATES = 500
MOST_REPORTED = 2_000
"""Of more systems a report is asked for by itself."""
PIECE = 1 << 16
UNITS = "si"


def for_reading(source: Source) -> Iterator[Extra]:
    yield "report.pdf", [report_of(source).pdf()], "The same in short, on paper (PDF/A-2b)."
    yield "records.xlsx", _workbook(source), f"The first {MOST_ROWS} records as a workbook."
    yield from _portfolio(source)
    yield from _certificates(source)


def _portfolio(source: Source) -> Iterator[Extra]:
    """Where the systems stood that day; not of a period or of some kinds, which tell no whole."""
    scope = source.scope
    if scope.since or scope.until or scope.kinds:
        return
    keys = tuple(scope.of_systems().order_by("pk").values_list("pk", flat=True)[:MOST_REPORTED])
    if not keys or len(keys) == MOST_REPORTED:
        return
    asked = Asked.of_today(source.now)
    report = Collected(
        keys, asked, None, source.now, chosen_by="The systems of this package.",
        owners=(scope.owner,),
    )  # fmt: skip
    yield "portfolio.pdf", [paper_of(report).pdf()], "Where they stand, and why (PDF/A-2b)."


def _certificates(source: Source) -> Iterator[Extra]:
    """Of accepted runs that a record in the package belongs to, as they would be printed today."""
    runs = InertingRun.objects.filter(
        records__in=source.asked_for().order_by(), status__in=CERTIFIED
    ).distinct()
    runs = runs.select_related("system__site__owner", "system__building").order_by("pk")
    for run in runs[:MOST_CERTIFICATES]:
        name = f"certificates/{slugify(run.system.tag)}-{run.pk}.pdf"
        yield name, [certificate_of(run, units=UNITS).pdf()], f"Of {run.system.tag}."


def _workbook(source: Source) -> Iterator[bytes]:
    book = Workbook(write_only=True)
    about, records, schedule = (
        book.create_sheet(title) for title in ("About", "Records", "Demanded")
    )
    columns = (*COLUMNS, "hash")
    shown = _fill(records, columns, _record_cells(source))
    left = source.asked_for().count() - shown
    told = _fill(schedule, DEMANDED, (demand_cells(one, source) for one in demands(source)))
    for line in (
        f"Records of {source.scope.owner}, made {source.now:%Y-%m-%d %H:%M} UTC.",
        f"The sheet “Records” holds {shown} records and leaves out {left}.",
        f"The sheet “Demanded” holds {told} rows, which is "
        + ("not all of them." if told == MOST_ROWS else "all of them."),
        f"A sheet here ends after {MOST_ROWS} rows and a cell after {MOST_CELL} characters.",
        "records.csv, records.jsonl and demanded.csv beside it hold everything; verify.py checks "
        "those, and of this workbook only that it is the file that was signed.",
    ):
        about.append([_cell(about, line)])
    with TemporaryFile() as file:
        book.save(file)
        file.seek(0)
        while piece := file.read(PIECE):
            yield piece


def _record_cells(source: Source) -> Iterator[tuple[object, ...]]:
    for row in source.rows():
        if isinstance(row, Line):
            yield (*row.words, row.hash)


def _fill(sheet, columns: Iterable[str], rows: Iterable[Sequence[object]]) -> int:
    """How many rows are in it."""
    sheet.append(list(columns))
    count = 0
    for cells in islice(rows, MOST_ROWS):
        sheet.append([_cell(sheet, value) for value in cells])
        count += 1
    return count


def _cell(sheet, value: object) -> WriteOnlyCell:
    """Text stays text, whatever it looks like: nothing in it becomes a formula or a day."""
    if not isinstance(value, str):
        return WriteOnlyCell(sheet, value=value)
    cell = WriteOnlyCell(sheet, value=_allowed(value)[:MOST_CELL] or None)
    cell.data_type = "s"
    return cell


def _allowed(text: str) -> str:
    """XML 1.0 has no control characters but tab and line ends."""
    return "".join(sign if sign >= " " or sign in "\t\n\r" else "□" for sign in text)
