"""What is read at most. A file beyond is refused with words, never cut short and never left to
take the memory or the time of the process that reads it."""

import time
from dataclasses import dataclass, field

from django.utils.translation import gettext

from registry.imports.problems import ImportFileError
from registry.translation import _

MAX_ROWS = 250_000
MAX_COLUMNS = 100
MAX_CELL = 2_000
MAX_SHEETS = 200
MAX_LINE = 1 << 20  # of a CSV file, in characters
MAX_LINES = 1_048_576  # of a sheet, empty ones too: as many as a spreadsheet program holds
MAX_DEPTH = 64  # of elements within each other
MAX_UNPACKED = 400 << 20  # bytes of all parts of a workbook that are read
MAX_SHARED_TEXT = 24 << 20  # characters of the texts that the cells of a workbook share
MAX_SHARED_TEXTS = 500_000
MAX_ELEMENTS = 8_000_000  # of XML: a sheet of 250,000 rows and thirty columns has that many
MAX_TOKEN = 256 << 10  # bytes in which a piece of XML must end, or the parser would hold it all
MAX_MERGED = 20_000
SECONDS = 20.0  # of computing; waiting for others does not count
SECONDS_IN_REQUEST = 4.0  # what takes longer is a worker's

SAVE_AS_CSV = _("Save the register's sheet alone, as CSV (UTF-8).")


class TooSlow(ImportFileError):
    """Perhaps not for one who has more time."""


@dataclass
class Budget:
    """What one reading of a workbook may still use."""

    bytes: int = MAX_UNPACKED
    elements: int = MAX_ELEMENTS
    seconds: float = SECONDS
    began: float = field(default_factory=lambda: time.thread_time())

    def spend_bytes(self, count: int) -> None:
        self.bytes -= count
        if self.bytes < 0:
            megabytes = MAX_UNPACKED >> 20
            raise ImportFileError(
                (
                    gettext(
                        "The workbook unpacks to more than %(megabytes)s MB, which is more than "
                        "is read. "
                    )
                    % {"megabytes": megabytes}
                )
                + SAVE_AS_CSV
            )
        if time.thread_time() - self.began > self.seconds:
            raise TooSlow(
                (
                    gettext("The workbook takes longer than %(seconds)s seconds to read. ")
                    % {"seconds": f"{self.seconds:.0f}"}
                )
                + SAVE_AS_CSV
            )

    def spend_elements(self, count: int) -> None:
        self.elements -= count
        if self.elements < 0:
            raise ImportFileError(
                gettext("The workbook has more cells than are read. ") + SAVE_AS_CSV
            )
