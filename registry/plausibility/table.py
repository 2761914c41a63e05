"""The limits beyond which a measurement is asked about, as data; the first that is met counts.

Stored units: percent, Pa gauge, K, mm, and days for the age of a calibration. A limit `of`
something is a multiple of it: of the planned fill, of the rated pressure, of the wall when new.
"""

from dataclasses import dataclass

from registry.quantities import PSI
from registry.translation import _

NITROGEN, PRESSURE, REGULATOR = "nitrogen", "pressure", "regulator"
TEMPERATURE, WALL, CALIBRATION = "temperature", "wall", "calibration"
AIR_CHECK, ZERO_CHECK = "air_check", "zero_check"
PLANNED, RATED, NEW_WALL, WATER_FILLED = "planned", "rated", "new_wall", "water_filled"

DIMENSIONS = {
    NITROGEN: "percent",
    PRESSURE: "pressure",
    REGULATOR: "pressure",
    TEMPERATURE: "temperature",
    WALL: "wall",
    AIR_CHECK: "percent",
    ZERO_CHECK: "percent",
}


@dataclass(frozen=True, slots=True)
class Answer:
    """What was probably meant: `scale` times what was typed, plus `shift`.

    It is offered where it lands between `least` and `most`, for a limit `of` something multiples
    of the planned fill where there is one, and else of that."""

    words: str
    scale: float = 1.0
    shift: float = 0.0
    least: float = float("-inf")
    most: float = float("inf")


@dataclass(frozen=True, slots=True)
class Limit:
    sense: str
    code: str
    says: str
    causes: tuple[str, ...]
    below: float | None = None
    above: float | None = None
    of: str = ""
    only: str = ""  # where this is known of the pipe
    answers: tuple[Answer, ...] = ()
    can_be_true: bool = True


AIR_ON_A_METER = 79.05
"""100 less 20.95 % oxygen; argon, 0.93 %, counts as nitrogen. Dry air, ISO 2533:1975, table 1."""

LEAST_IN_AIR = 78.0
"""Just under the 78.08 % of a meter that leaves argon out: no air or nitrogen reads lower."""

LOWEST_TRUE_AIR = 78.6
"""100 less the 20.9 +/- 0.5 % that an air check allows (a field guide's limits), as rounded."""

MOST_OXYGEN_SHOWN = 21.5
LEAST_AIR_CHECK, MOST_AIR_CHECK = 20.4, 21.4
"""20.9 +/- 0.5 % oxygen in fresh air (a field guide's limits)."""

MOST_ZERO_CHECK = 0.3
"""Oxygen in pure nitrogen from the cylinder. Common practice, no source."""

CYLINDER_SENSE_PA = 450 * PSI
"""No sprinkler pipe is worked so high; a cylinder nearly always holds more. Common practice."""

KPA_FOR_PSI = 1e3 / PSI
BAR_FOR_PSI = 1e5 / PSI
PSI_FOR_BAR = PSI / 1e5
"""A number meant in the first unit and read in the second is so many times as much."""

INCH_MM = 25.4

OXYGEN_SHOWN = Answer(
    _("The meter showed oxygen: log {answer} nitrogen"), scale=-1.0, shift=100.0, least=LEAST_IN_AIR
)
DECIMAL_LOST = Answer(
    _("The decimal point was left out: log {answer}"), scale=0.1, least=LEAST_IN_AIR, most=100.0
)
TENTH_LOST = Answer(
    _("The decimal point was left out: log {answer}"), scale=0.01, least=LEAST_IN_AIR, most=100.0
)
COMMA_MEANT = Answer(
    _("A decimal comma was meant: log {answer}"), scale=0.001, least=LEAST_IN_AIR, most=100.0
)
A_SHARE = Answer(
    _("It was a share of one: log {answer}"), scale=100.0, least=LEAST_IN_AIR, most=100.0
)
ARGON_LEFT_OUT = Answer(
    _("The meter leaves argon out: log {answer}"),
    shift=0.93,
    least=LEAST_IN_AIR,
    most=AIR_ON_A_METER,
)
SMALLER_UNIT = (
    Answer(_("It was in kPa: log {answer}"), KPA_FOR_PSI, 0.0, 0.5, 1.25),
    Answer(_("It was in psi: log {answer}"), PSI_FOR_BAR, 0.0, 0.5, 1.25),
)
LARGER_UNIT = (Answer(_("It was in bar: log {answer}"), BAR_FOR_PSI, 0.0, 0.5, 1.25),)
WRONG_GAUGE = _("The gauge of the cylinder was read, and not that of the pipe.")
OTHER_UNIT = _("The number was in another unit.")
WRONG_KEY = _("A key was hit twice, or left out.")

LIMITS: tuple[Limit, ...] = (
    Limit(
        NITROGEN,
        "oxygen_shown",
        _("{value} nitrogen is less than air holds."),
        (
            _("The meter showed oxygen: nitrogen is 100 less that."),
            _("The meter showed a share of one, and not a percentage."),
            WRONG_KEY,
        ),
        below=MOST_OXYGEN_SHOWN,
        answers=(OXYGEN_SHOWN, A_SHARE),
    ),
    Limit(
        NITROGEN,
        "below_air",
        _("{value} nitrogen is less than air holds, which reads about 79 %."),
        (
            _("The meter was not calibrated, or water got into it."),
            _("Another gas is in the pipe, such as carbon dioxide."),
            WRONG_KEY,
        ),
        below=LEAST_IN_AIR,
    ),
    Limit(
        NITROGEN,
        "low_air",
        _("{value} nitrogen is a little less than air reads on most meters, 79 %."),
        (
            _("It is air, and the meter leaves argon out, which most count as nitrogen."),
            _("The meter is off: check it in fresh air, where it shows 20.9 % oxygen."),
        ),
        below=LOWEST_TRUE_AIR,
        answers=(ARGON_LEFT_OUT,),
    ),
    Limit(
        NITROGEN,
        "no_point",
        _("{value} is more than 100 %, which is all of the gas."),
        (_("The decimal point was left out."), WRONG_KEY),
        above=100.0,
        answers=(DECIMAL_LOST, TENTH_LOST, COMMA_MEANT),
        can_be_true=False,
    ),
    Limit(
        PRESSURE,
        "cylinder_sense",
        _("{value} is the pressure of a cylinder, and not of sprinkler pipe."),
        (WRONG_GAUGE, OTHER_UNIT, WRONG_KEY),
        above=CYLINDER_SENSE_PA,
    ),
    Limit(
        PRESSURE,
        "above_rated",
        _("{value} is above the rated working pressure of the weakest component, {of}."),
        (
            OTHER_UNIT,
            _("The pipe is in danger: bring it down, and look for damage before going on."),
            _("It was a pressure test, or a surge of the supply. Then keep it."),
        ),
        above=1.0,
        of=RATED,
        answers=SMALLER_UNIT,
    ),
    Limit(
        PRESSURE,
        "above_plan",
        _("{value} is well above the planned fill of {of}."),
        (OTHER_UNIT, _("The regulator was set higher than the plan says."), WRONG_KEY),
        above=1.25,
        of=PLANNED,
        answers=SMALLER_UNIT,
    ),
    Limit(
        PRESSURE,
        "far_below_plan",
        _("{value} is far below the planned fill of {of}."),
        (OTHER_UNIT, _("The cylinder ran empty, or the pipe leaks."), WRONG_KEY),
        below=0.25,
        of=PLANNED,
        answers=LARGER_UNIT,
    ),
    Limit(
        REGULATOR,
        "regulator_cylinder",
        _("{value} is the cylinder side of a regulator, and not what it lets out."),
        (WRONG_GAUGE, OTHER_UNIT, WRONG_KEY),
        above=CYLINDER_SENSE_PA,
    ),
    Limit(
        REGULATOR,
        "regulator_above_rated",
        _("A regulator at {value} is above the rated working pressure, {of}."),
        (
            _("The high-pressure gauge of the regulator was read."),
            OTHER_UNIT,
            _("The pipe is in danger: turn the regulator down before the valve is opened."),
        ),
        above=1.0,
        of=RATED,
        answers=SMALLER_UNIT,
    ),
    Limit(
        TEMPERATURE,
        "freezing",
        _("Water freezes in a pipe at {value}."),
        (_("It was in Celsius."), _("The pipe is frozen or drained. Then keep it.")),
        below=273.15,
        only=WATER_FILLED,
        answers=(Answer(_("It was in °C: log {answer}"), 1.8, 32 - 0.8 * 273.15, 273.15, 323.15),),
    ),
    Limit(
        TEMPERATURE,
        "hot",
        _("{value} is hotter than sprinkler pipe gets."),
        (_("It was in Fahrenheit."), WRONG_KEY),
        above=333.15,
        answers=(
            Answer(_("It was in °F: log {answer}"), 1 / 1.8, 273.15 - 305.15 / 1.8, 233.15, 333.15),
        ),
    ),
    Limit(
        WALL,
        "wall_in_inches",
        _("A wall of {value} is thinner than a gauge can read."),
        (_("It was in inches."), _("The decimal point is in the wrong place.")),
        below=0.5,
        answers=(Answer(_("It was in inches: log {answer}"), INCH_MM, 0.0, 0.5, 15.0),),
    ),
    Limit(
        WALL,
        "wall_in_millimetres",
        _("A wall of {value} is thicker than any sprinkler pipe."),
        (_("It was in millimetres."), _("The decimal point is in the wrong place.")),
        above=15.0,
        answers=(Answer(_("It was in mm: log {answer}"), 1 / INCH_MM, 0.0, 0.5, 15.0),),
    ),
    Limit(
        WALL,
        "thicker_than_new",
        _("{value} is thicker than this pipe was when new, {of}."),
        (
            _("The paint was measured as well, or the sound velocity is set for another material."),
            _("It is another pipe run than the one chosen."),
            _("The pipe was made thick: mills allow as much. Then keep it."),
        ),
        above=1.125,
        of=NEW_WALL,
    ),
    Limit(
        AIR_CHECK,
        "nitrogen_shown",
        _("Fresh air holds 20.9 % oxygen; {value} is far more."),
        (_("The meter showed nitrogen: oxygen is 100 less that."), WRONG_KEY),
        above=50.0,
        answers=(
            Answer(
                _("The meter showed nitrogen: log {answer} oxygen"),
                scale=-1.0,
                shift=100.0,
                least=LEAST_AIR_CHECK,
                most=MOST_AIR_CHECK,
            ),
        ),
    ),
    Limit(
        AIR_CHECK,
        "air_check_failed",
        _("Fresh air holds 20.9 % oxygen; {value} is more than 0.5 beside it."),
        (
            _("The meter is off: adjust it as its manual says, and check it again."),
            _("Its cell reads partial pressure and was set at another height or pressure."),
            _("The air was humid, the cell is old, or it was not fresh air."),
        ),
        below=LEAST_AIR_CHECK,
        above=MOST_AIR_CHECK,
    ),
    Limit(
        ZERO_CHECK,
        "zero_check_failed",
        _("Pure nitrogen holds next to no oxygen; {value} is more than 0.3."),
        (
            _("The meter was not yet flushed: wait until it stands still."),
            _("The meter is off: near 98 % nitrogen this decides. Adjust it and check it again."),
        ),
        above=MOST_ZERO_CHECK,
    ),
    Limit(
        CALIBRATION,
        "calibration_expired",
        _("The analyser was last calibrated {value} days ago; a year is usual at most."),
        (
            _("It was calibrated since: write the later day."),
            _("It is due: prove it in fresh air (20.9 %) and on pure nitrogen (0.0 %)."),
        ),
        above=365.0,
    ),
)
