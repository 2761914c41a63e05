"""XML as a stream of elements, bounded in every direction a hostile file could grow into."""

from collections.abc import Callable
from typing import IO, Any
from xml.parsers import expat

from django.utils.translation import gettext

from registry.imports.problems import ImportFileError
from registry.imports.reading.limits import MAX_DEPTH, MAX_TOKEN, Budget
from registry.translation import _

CHUNK = 64 << 10
DAMAGED = _("The workbook is damaged. Save it as XLSX again, or as CSV (UTF-8).")

Start = Callable[[str, dict[str, str]], None]


class Enough(Exception):
    """Raised by a handler that has what it wanted."""


def parse(
    stream: IO[bytes],
    budget: Budget,
    *,
    start: Start,
    end: Callable[[str], None] = lambda name: None,
    text: Callable[[str], None] | None = None,
) -> None:
    """Feed the stream to the handlers. The start handler answers for the depth: see `shallow`."""
    parser = expat.ParserCreate()
    parser.buffer_text = False
    parser.StartElementHandler = start
    parser.EndElementHandler = end
    if text:
        parser.CharacterDataHandler = text
    parser.StartDoctypeDeclHandler = _refuse
    parser.EntityDeclHandler = _refuse
    fed = 0
    try:
        while chunk := stream.read(CHUNK):
            budget.spend_bytes(len(chunk))
            parser.Parse(chunk, False)
            fed += len(chunk)
            if fed - max(parser.CurrentByteIndex, 0) > MAX_TOKEN:
                raise ImportFileError(gettext("The workbook has a cell without end. ") + DAMAGED)
        parser.Parse(b"", True)
    except Enough:
        return
    except expat.ExpatError as error:
        raise ImportFileError(DAMAGED) from error


def shallow(start: Start, end: Callable[[str], None]) -> tuple[Start, Callable[[str], None]]:
    """The handlers, refusing elements that lie in each other without end."""
    depth = 0

    def bounded_start(name: str, attributes: dict[str, str]) -> None:
        nonlocal depth
        depth += 1
        if depth > MAX_DEPTH:
            raise ImportFileError(DAMAGED)
        start(name, attributes)

    def bounded_end(name: str) -> None:
        nonlocal depth
        depth -= 1
        end(name)

    return bounded_start, bounded_end


def _refuse(*_: Any) -> None:
    raise ImportFileError(
        gettext(
            "The workbook declares entities of its own, which no spreadsheet program "
            "does. Save it as XLSX again, or as CSV (UTF-8)."
        )
    )


def local(name: str) -> str:
    return name.rpartition(":")[2]
