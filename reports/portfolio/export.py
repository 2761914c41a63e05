"""The portfolio as a file: every system that the filters leave, in the order of the page."""

from collections.abc import Iterator, Sequence
from datetime import datetime
from io import BytesIO

from django.utils.translation import gettext
from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell

from registry.models import User
from reports.portfolio.rows import Row, kind_words, rows_of

CHUNK = 500
COLUMNS = (
    "system", "site", "building", "kind", "atmosphere", "atmosphere_since", "protection",
    "protection_not_known", "score", "what_to_do", "leak_in_5_years", "score_since_last_visit",
    "why_it_changed",
    "days_late", "late_work", "open_work", "first_work", "first_work_due", "next",
    "currency", "price_of_next", "expected_cost_a_year",
    "replacing_all_pipe", "prices_assumed", "incomplete",
)  # fmt: skip
ASKED = ("replacing",)
Line = list[str | float | int]


def lines(keys: Sequence[int], user: User, now: datetime, since: datetime | None) -> Iterator[Line]:
    """Five hundred systems at a time: a large file needs no more memory than a small one."""
    for begin in range(0, len(keys), CHUNK):
        for row in rows_of(
            keys[begin : begin + CHUNK], user, now, since=since, columns=ASKED, is_drawn=False
        ):
            yield line(row)


def line(row: Row) -> Line:
    system, first = row.system, row.first_work
    deed = row.deed
    is_priced = bool(deed and deed.code in ("order", "see", "ask"))
    since = system.atmosphere_since
    return [
        system.tag,
        system.site.name,
        str(system.building or ""),
        system.get_kind_display(),
        system.atmosphere_state or gettext("not derived yet"),
        since.astimezone(row.zone).date().isoformat() if since else "",
        system.protection_state or "not_known",
        ", ".join((system.protection_unanswered or "").split()),
        "" if system.score is None else round(system.score, 1),
        system.band or "",
        "" if system.leak_in_5_yr is None else round(system.leak_in_5_yr, 4),
        "" if row.change is None else round(row.change, 1),
        kind_words(row.cause[0]) if row.cause else "",
        "" if row.days_late is None else row.days_late,
        row.late_count,
        len(row.work),
        first.title if first else "",
        first.due_on.isoformat() if first else "",
        deed.words if deed else "",
        row.prices.currency,
        row.prices.visit if is_priced else "",
        "" if row.loss is None else round(row.loss),
        "" if row.replacing is None else round(row.replacing.value),
        gettext("yes") if _is_assumed(row) else gettext("no"),
        gettext("yes") if system.is_incomplete else gettext("no"),
    ]


def _is_assumed(row: Row) -> bool:
    """Whether any amount of the line rests on a price that the owner has not given."""
    return row.prices.is_assumed or bool(row.replacing and row.replacing.is_assumed)


def workbook(rows: Iterator[Line]) -> bytes:
    """Numbers stay numbers; texts stay texts, whatever they look like."""
    book = Workbook(write_only=True)
    sheet = book.create_sheet(gettext("Portfolio"))
    sheet.freeze_panes = "B2"
    sheet.append(list(COLUMNS))
    for values in rows:
        sheet.append([_cell(sheet, value) for value in values])
    to = BytesIO()
    book.save(to)
    return to.getvalue()


def _cell(sheet, value: str | float):
    cell = WriteOnlyCell(sheet, value=value if value != "" else None)
    if isinstance(value, str):
        cell.data_type = "s"
    return cell
