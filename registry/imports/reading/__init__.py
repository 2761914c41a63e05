"""Files -> sheets -> rows of text, one at a time, whatever somebody puts into them."""

from .books import Book, count_rows, open_book
from .limits import MAX_CELL, MAX_COLUMNS, MAX_ROWS, SECONDS, SECONDS_IN_REQUEST, TooSlow
from .rows import Sheet, SheetRow

__all__ = [
    "MAX_CELL",
    "MAX_COLUMNS",
    "MAX_ROWS",
    "SECONDS",
    "SECONDS_IN_REQUEST",
    "Book",
    "SheetRow",
    "Sheet",
    "TooSlow",
    "count_rows",
    "open_book",
]
