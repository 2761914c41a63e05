"""What can be measured at a system."""

from registry.atmosphere import GasEffect
from registry.atmosphere.readings import after_reading
from registry.kinds.meaning import MarkShape, PipeEvidence, StripMark
from registry.kinds.parts import (
    PIPE_TEMPERATURE,
    SPOT,
    TRI,
    WHERE,
    Field,
    Kind,
    choice,
    percent,
    pressure,
    quantity,
    text,
)
from registry.translation import _

GAS_READING = Kind(
    "reading.gas",
    _("Gas reading"),
    _("Nitrogen in the pipe. Most meters read oxygen and show 100 less that, argon included."),
    (
        percent("n2_percent", _("Nitrogen"), required=True),
        WHERE,
        text("analyser", _("Gas analyser")),
        Field("analyser_calibrated_on", _("Analyser calibrated"), "date"),
        pressure("pressure_gauge_pa", _("Pressure in the pipe")),
    ),
    ("nitrogen",),
    gas=GasEffect(moves=after_reading, is_reading=True),
    mark=StripMark(MarkShape.READING, ""),
    shows_gas=True,
    is_logged_at_riser=True,
)

PRESSURE_READING = Kind(
    "reading.pressure",
    _("Pressure reading"),
    fields=(
        pressure("pressure_gauge_pa", _("Pressure"), required=True),
        PIPE_TEMPERATURE,
        WHERE,
    ),
    shows_gas=True,
    is_logged_at_riser=True,
)

WALL_READING = Kind(
    "reading.wall",
    _("Wall thickness (UT)"),
    _("Thinnest wall found by ultrasonic testing at one place."),
    (
        quantity("wall_mm", _("Wall"), "wall", required=True),
        Field(
            "run",
            _("Pipe run of the register"),
            "pipe_run",
            help=_("Says role and size as well; leave it open where the run is not entered."),
        ),
        choice(
            "run_role",
            _("Pipe"),
            ("riser", _("Riser")),
            ("feed_main", _("Feed main")),
            ("cross_main", _("Cross main")),
            ("branch_line", _("Branch line")),
        ),
        text("nominal_size", _("Nominal size"), required=True),
        SPOT,
        text(
            "position",
            _("Position around the pipe"),
            help=_("As on a clock, looking the way the water flows: 12 is the top, 6 the bottom."),
        ),
        choice(
            "method",
            _("How it was found"),
            ("full_scan", _("Full scan of the place, thinnest kept")),
            ("suggested_position", _("Scan where the book suggested")),
            ("grid", _("Grid of points, thinnest kept")),
            ("single_spot", _("Single spot")),
            required=False,
        ),
        choice("dressed", _("Was the surface dressed (paint and rust off)?"), *TRI, required=False),
        quantity("error_mm", _("Reading error (one standard deviation)"), "wall"),
    ),
    evidence=PipeEvidence.WALL,
)

COUPON_READING = Kind(
    "reading.coupon",
    _("Corrosion coupon"),
    fields=(
        quantity("mass_loss_kg", _("Mass lost"), "mass", required=True),
        quantity("area_m2", _("Exposed area"), "area", required=True),
        quantity("exposed_s", _("Time exposed"), "duration", required=True),
        choice("material", _("Material"), ("black_steel", _("Black steel")), ("zinc", _("Zinc"))),
        SPOT,
    ),
    evidence=PipeEvidence.COUPON,
)

WATER_SAMPLE = Kind(
    "reading.water",
    _("Water sample"),
    fields=(
        Field("ph", _("pH"), "number", low=0.0, high=14.0),
        Field("dissolved_oxygen_mg_l", _("Dissolved oxygen, mg/L"), "number", low=0.0, high=60.0),
        Field("chloride_mg_l", _("Chloride, mg/L"), "number", low=0.0, high=50000.0),
        Field("sulphate_mg_l", _("Sulphate, mg/L"), "number", low=0.0, high=50000.0),
        Field(
            "alkalinity_mg_l",
            _("Alkalinity, mg/L as calcium carbonate"),
            "number",
            low=0.0,
            high=50000.0,
        ),
        Field("iron_mg_l", _("Iron, mg/L"), "number", low=0.0, high=50000.0),
        text("bacteria", _("Bacteria count, with method and unit")),
        WHERE,
    ),
    evidence=PipeEvidence.WATER,
)

OBSTRUCTION_FINDING = Kind(
    "reading.obstruction",
    _("Obstruction finding"),
    _("What was found inside the pipe."),
    (
        choice(
            "finding",
            _("Found"),
            ("clear", _("Clear")),
            ("slime", _("Slime or sludge")),
            ("scale", _("Scale or tubercles")),
            ("debris", _("Foreign material")),
        ),
        percent("blocked_percent", _("Share of the bore blocked")),
        SPOT,
    ),
    evidence=PipeEvidence.INSIDE,
)

LEAK_DOWN_TEST = Kind(
    "reading.leak_down",
    _("Leak-down test"),
    _("Gas pressure at the start and the end, with the pipe temperature at both."),
    (
        pressure("start_gauge_pa", _("Pressure at the start"), required=True),
        pressure("end_gauge_pa", _("Pressure at the end"), required=True),
        quantity("duration_s", _("Duration"), "duration", required=True),
        quantity(
            "start_temperature_k", _("Pipe temperature at the start"), "temperature", low=200.0
        ),
        quantity("end_temperature_k", _("Pipe temperature at the end"), "temperature", low=200.0),
    ),
)

READINGS = (
    GAS_READING,
    PRESSURE_READING,
    WALL_READING,
    COUPON_READING,
    WATER_SAMPLE,
    OBSTRUCTION_FINDING,
    LEAK_DOWN_TEST,
)
