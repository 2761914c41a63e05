"""What somebody without an account told at the sign on the riser; unconfirmed until answered."""

from dataclasses import replace

from registry.atmosphere import GasEffect, events
from registry.kinds.meaning import MarkShape, StripMark
from registry.kinds.parts import DRAIN_STEPS, Kind, choice, text
from registry.protection import verdicts
from registry.translation import _

TOLD = Kind(
    "event.told",
    _("Told at the sign, unconfirmed"),
    _("Somebody without an account told it; it stands until it is confirmed or dismissed."),
    (
        choice(
            "what",
            _("What was told"),
            ("leak", _("Water or gas is coming out of a pipe")),
            ("head_break", _("A sprinkler opened or was knocked off")),
            ("fire", _("There was a fire")),
            ("trip", _("The valve tripped and water ran into the pipe")),
            ("drained", _("Water was drained from the pipe")),
            ("valve_closed", _("A valve was closed")),
            ("gas_loss", _("The gas pressure fell, or an air compressor was used")),
            ("other", _("Something else")),
        ),
        choice(
            "happened",
            _("When, as it was told"),
            ("now", _("Just now")),
            ("today", _("Earlier today")),
            ("before", _("Before today")),
            ("unknown", _("Not known")),
        ),
        *(replace(step, is_required=False) for step in DRAIN_STEPS),
        text(
            "told_sha256",
            _("Digest of what was typed"),
            help=_("SHA-256 over a salt and the words, which are kept outside the ledger."),
        ),
    ),
    moment=_("When it was told"),
    is_entered_by_hand=False,
    is_taken_back_by_hand=True,
    gas=GasEffect(air=events.told),
    protection=verdicts.told,
    mark=StripMark(MarkShape.WORK, "?"),
)

TOLD_AT_THE_SIGN = (TOLD,)
