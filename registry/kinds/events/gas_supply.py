"""What keeps up the gas, and what goes wrong with it."""

from registry.atmosphere import GasEffect, events, feeds, maintenance
from registry.kinds.meaning import MarkShape, StripMark
from registry.kinds.parts import (
    GAS_PIPE,
    REPLACED,
    Kind,
    choice,
    percent,
    pressure,
    quantity,
    tri,
)
from registry.protection import verdicts
from registry.translation import _

GAS_LOSS = Kind(
    "event.gas_loss",
    _("Loss of gas pressure"),
    _("Gas pressure fell, or the low-pressure signal came."),
    (
        pressure("from_gauge_pa", _("Pressure before")),
        pressure("to_gauge_pa", _("Lowest pressure"), required=True),
        tri("air_entered", _("Did air get into the pipe?")),
        REPLACED,
    ),
    system_kinds=(*GAS_PIPE, "deluge"),
    gas=GasEffect(air=events.gas_loss),
    protection=verdicts.gas_loss,
    mark=StripMark(MarkShape.BREACH, "G"),
    is_logged_at_riser=True,
)

AIR_MAKEUP = Kind(
    "event.air_makeup",
    _("Air make-up"),
    _("Air from a compressor was put into gas-filled pipe."),
    (
        quantity("rise_pa", _("Total pressure made up with air"), "pressure_difference"),
        REPLACED,
        choice(
            "now",
            _("Compressor now"),
            ("off", _("Shut off")),
            ("on", _("Still connected")),
            ("unknown", _("Not known")),
        ),
    ),
    system_kinds=GAS_PIPE,
    gas=GasEffect(air=events.air_makeup, feed=feeds.after_makeup),
    mark=StripMark(MarkShape.BREACH, "A"),
)

GENERATOR_BYPASS = Kind(
    "event.generator_bypass",
    _("Fast fill past the generator"),
    _("Pipe was brought to pressure fast; through the bypass that is air, until it is swept."),
    (
        tri("bypass_used", _("Was it filled with air through the bypass?")),
        tri("closed_after", _("Is the bypass shut again?")),
    ),
    gas=GasEffect(air=events.generator_bypass),
    mark=StripMark(MarkShape.BREACH, "B"),
    system_kinds=GAS_PIPE,
)

COMPRESSOR_WORK = Kind(
    "event.compressor_work",
    _("Work on the air compressor"),
    _("Harmless while its valve is shut; a valve opened again feeds air without anybody noticing."),
    (tri("valve_shut", _("Is its valve left shut and tagged?")),),
    gas=GasEffect(air=maintenance.compressor_work),
    mark=StripMark(MarkShape.WORK, "C"),
    system_kinds=GAS_PIPE,
)

GENERATOR_WORK = Kind(
    "event.generator_work",
    _("Work on the nitrogen generator"),
    _("Its purity drifts, and a fault of its carbon or membrane feeds air at pressure."),
    (
        choice(
            "feeds",
            _("What it feeds afterwards, read at its outlet"),
            ("nitrogen", _("Nitrogen, as pure as it should be")),
            ("air", _("Air, or nitrogen that is not pure enough")),
            ("unknown", _("Nobody has read it")),
        ),
        percent("feed_n2_percent", _("Nitrogen at its outlet")),
    ),
    ("nitrogen",),
    gas=GasEffect(air=maintenance.generator_work),
    mark=StripMark(MarkShape.WORK, "E"),
    system_kinds=GAS_PIPE,
)

GAS_SUPPLY = (GAS_LOSS, AIR_MAKEUP, GENERATOR_BYPASS, COMPRESSOR_WORK, GENERATOR_WORK)
