"""What iCalendar allows in no line (RFC 5545 3.1): control characters are left out."""

BREAKS = "\r\x85\u2028\u2029"
"""What some readers take for the end of a line besides a line feed."""
CONTROLS = dict.fromkeys((*range(32), 127, *range(128, 160)))
ONE_LINE = CONTROLS | {ord(mark): " " for mark in ("\n", "\t", *BREAKS)}
TEXT = CONTROLS | {ord(mark): "\n" for mark in ("\n", *BREAKS)} | {ord("\t"): " "}


def without_controls(text: str) -> str:
    """Whatever ends a line of the text is a line feed, which is escaped when it is written."""
    return text.replace("\r\n", "\n").translate(TEXT)


def one_line(text: str) -> str:
    """A name or an address: on one line, whatever is in it."""
    return " ".join(text.translate(ONE_LINE).split())
