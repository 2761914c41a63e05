"""Rows of what is told at the sign: unconfirmed, so in doubt whatever it says."""

from registry.kinds.events import TOLD
from tests.event_table.rows import Row

SAID = [code for code, _words in TOLD.fields[0].choices]
TOLD_AT_THE_SIGN = [
    Row("told", pipe, {"what": what, "happened": "now"}, "in_doubt", "not_known", "not confirmed",
        "in_doubt told")
    for pipe in ("wet", "dry")
    for what in SAID
]  # fmt: skip
