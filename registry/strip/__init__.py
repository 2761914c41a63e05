"""The strip: one band of a system's atmosphere over time, with its events as marks on it.

Pure: spans and marks go in, geometry, words and SVG come out. No database.
"""

from .layout import Bar, PlacedMark, Size, SpanLike, Strip, Tick, build_strip
from .marks import MARKS, Mark
from .period import telling_period
from .svg import PRINT, protection_sample, strip_svg, strip_svg_for_pdf
from .words import STATE_WORDS, Day, describe, duration_words

__all__ = [
    "MARKS",
    "PRINT",
    "STATE_WORDS",
    "Bar",
    "Day",
    "Mark",
    "PlacedMark",
    "Size",
    "SpanLike",
    "Strip",
    "Tick",
    "build_strip",
    "describe",
    "duration_words",
    "protection_sample",
    "strip_svg",
    "strip_svg_for_pdf",
    "telling_period",
]
