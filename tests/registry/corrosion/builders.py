"""Systems for the tests of the corrosion model, with few defaults."""

from registry.corrosion.dimensions import pipe_dimensions
from registry.corrosion.inputs import GasSpan, RunInput, SystemInput

PSI = 6894.757293168
ATMOSPHERE = 101325.0
AIR = 0.2095


def run(nps="4", schedule="10", length=120.0, **changes):
    material = changes.pop("material", "black_steel")
    pipe = pipe_dimensions(material=material, nps=nps, schedule=schedule)
    values = {
        "material": material,
        "nominal_size": nps,
        "outside_diameter_m": pipe.outside_diameter_m,
        "wall_m": pipe.wall_m,
        "length_m": length,
        "installed_yr": 0.0,
        "joint": "roll_grooved",
    }
    return RunInput(**{**values, **changes})


def typical_runs(material="black_steel"):
    """A middling system: Schedule 10 mains, threaded Schedule 40 branch lines."""
    branch = {"role": "branch_line", "joint": "threaded", "material": material}
    return (
        run("6", "10", 30.0, role="riser", material=material),
        run("4", "10", 120.0, material=material),
        run("2-1/2", "10", 80.0, material=material),
        run("1-1/4", "40", 400.0, **branch),
        run("1", "40", 300.0, **branch),
    )


def wet(**changes):
    values = {
        "kind": "wet",
        "installed_yr": 0.0,
        "now_yr": 0.0,
        "runs": typical_runs(),
        "pressure_pa": 125.0 * PSI + ATMOSPHERE,
    }
    return SystemInput(**{**values, **changes})


def dry(oxygen=AIR, **changes):
    """Galvanized, 40 psig, made up all along with gas of `oxygen`."""
    values = {
        "kind": "dry",
        "installed_yr": 0.0,
        "now_yr": 0.0,
        "runs": typical_runs("galvanized_steel"),
        "pressure_pa": 40.0 * PSI + ATMOSPHERE,
        "spans": (GasSpan(0.0, oxygen, oxygen, 8.0),),
        "future_fills_per_year": 0.0,
    }
    return SystemInput(**{**values, **changes})


def air_fills(*times):
    return tuple(GasSpan(float(time), AIR) for time in times)
