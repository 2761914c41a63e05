"""What can be measured at a system."""

from registry.kinds.parts import (
    PIPE_TEMPERATURE,
    SPOT,
    WHERE,
    Field,
    Kind,
    choice,
    percent,
    pressure,
    quantity,
    text,
)

READINGS = (
    Kind(
        "reading.gas",
        "Gas reading",
        "reading",
        "Nitrogen in the pipe. Most meters read oxygen and show 100 less that, argon included.",
        (
            percent("n2_percent", "Nitrogen", required=True),
            WHERE,
            text("analyser", "Gas analyser"),
            Field("analyser_calibrated_on", "Analyser calibrated", "date"),
            pressure("pressure_gauge_pa", "Pressure in the pipe"),
        ),
        ("nitrogen",),
    ),
    Kind(
        "reading.pressure",
        "Pressure reading",
        "reading",
        fields=(pressure("pressure_gauge_pa", "Pressure", required=True), PIPE_TEMPERATURE, WHERE),
    ),
    Kind(
        "reading.wall",
        "Wall thickness (UT)",
        "reading",
        "Thinnest wall found by ultrasonic testing at one place.",
        (
            quantity("wall_mm", "Wall", "wall", required=True),
            choice(
                "run_role",
                "Pipe",
                ("riser", "Riser"),
                ("feed_main", "Feed main"),
                ("cross_main", "Cross main"),
                ("branch_line", "Branch line"),
            ),
            text("nominal_size", "Nominal size", required=True),
            SPOT,
            quantity("error_mm", "Reading error (one standard deviation)", "wall"),
        ),
    ),
    Kind(
        "reading.coupon",
        "Corrosion coupon",
        "reading",
        fields=(
            quantity("mass_loss_kg", "Mass lost", "mass", required=True),
            quantity("area_m2", "Exposed area", "area", required=True),
            quantity("exposed_s", "Time exposed", "duration", required=True),
            choice("material", "Material", ("black_steel", "Black steel"), ("zinc", "Zinc")),
            SPOT,
        ),
    ),
    Kind(
        "reading.water",
        "Water sample",
        "reading",
        fields=(
            Field("ph", "pH", "number", low=0.0, high=14.0),
            Field("dissolved_oxygen_mg_l", "Dissolved oxygen, mg/L", "number", low=0.0, high=60.0),
            Field("chloride_mg_l", "Chloride, mg/L", "number", low=0.0, high=50000.0),
            Field("iron_mg_l", "Iron, mg/L", "number", low=0.0, high=50000.0),
            text("bacteria", "Bacteria count, with method and unit"),
            WHERE,
        ),
    ),
    Kind(
        "reading.obstruction",
        "Obstruction finding",
        "reading",
        "What was found inside the pipe.",
        (
            choice(
                "finding",
                "Found",
                ("clear", "Clear"),
                ("slime", "Slime or sludge"),
                ("scale", "Scale or tubercles"),
                ("debris", "Foreign material"),
            ),
            percent("blocked_percent", "Share of the bore blocked"),
            SPOT,
        ),
    ),
    Kind(
        "reading.leak_down",
        "Leak-down test",
        "reading",
        "Gas pressure at the start and the end, with the pipe temperature at both.",
        (
            pressure("start_gauge_pa", "Pressure at the start", required=True),
            pressure("end_gauge_pa", "Pressure at the end", required=True),
            quantity("duration_s", "Duration", "duration", required=True),
            quantity(
                "start_temperature_k", "Pipe temperature at the start", "temperature", low=200.0
            ),
            quantity("end_temperature_k", "Pipe temperature at the end", "temperature", low=200.0),
        ),
    ),
)
