"""The numbers of the corrosion model as a page shows them: grouped by how each is known."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from registry.assess.cases import USUAL_WATER_GAUGE_PA
from registry.assess.fills import SAME_OUTAGE
from registry.assess.gas import OPEN_PIPE_TURNOVER, TEST_FLOW_SHARE
from registry.corrosion.assumptions import MODEL_VERSION, assumptions_table
from registry.corrosion.constants import Constant
from registry.corrosion.inputs import CONSEQUENCE_MULTIPLIER
from registry.corrosion.score import BAND_EDGES, BANDS, LIKELIHOOD_EDGES
from registry.quantities import format_quantity

WORDS = {
    "assumed": (
        "Assumed",
        "Chosen so that results land where practice does, or for want of better.",
    ),
    "published": ("Published", "Standards and handbooks; check the primary document."),
    "measured": ("Measured", "Readings of the world."),
}


@dataclass(frozen=True)
class Group:
    basis: str
    title: str
    lead: str
    rows: Sequence[Constant]


def assumptions_page() -> dict[str, Any]:
    return {
        "version": MODEL_VERSION,
        "groups": assumption_groups(),
        "bands": band_rows(),
        "consequences": consequence_words(),
        "readings": reading_rules(),
    }


def reading_rules() -> list[str]:
    """What is taken for granted between the rows of a ledger and the physics."""
    water = format_quantity(USUAL_WATER_GAUGE_PA, "pressure", "us")
    return [
        "What happened before the register began is assumed as above; events entered for that time "
        "come on top of it.",
        "Water-filled pipe that was opened is taken to have been filled again the same day, unless "
        f"a fill is on record or another opening followed within {SAME_OUTAGE.days} days.",
        "Each fill traps the gas that the atmosphere then shows; the next fill is expected to trap "
        "what the pipe holds now, and air where it is aerated.",
        "Fills to expect: those on record, with the assumed rate weighing as two years of them.",
        f"Water pressure that is not recorded is taken as {water}. Common practice, no source.",
        f"A test flow of unknown amount renews {TEST_FLOW_SHARE:.0%} of the water. Assumed.",
        f"The air in deluge pipe is renewed {OPEN_PIPE_TURNOVER:g} times a year. Assumed.",
        "A wall reading counts for the run it names, else for the run of its size and role, the "
        "longest of several; how it was taken says how likely it lies on the attack. One within a "
        "year of installation is the wall as built. A coupon counts for the longest run of steel.",
        "A leak counts when it is said to be a pinhole in pipe. That none is on record counts as "
        "evidence too, from the day the book began (earlier by leaks_known_years) until half of "
        "leak_dating_years before the assessment: as long ago as a leak found today opened on "
        "average, since what opened later need not have been found.",
        "Under one belief about a system (reasons, costs of events and of delay, measures) more "
        "oxygen never lowers a score. A history that the pipe was watched to outlive is evidence "
        "as well: a breach entered late may lower the score of gas-filled pipe.",
        "Copper, stainless steel and CPVC are outside the oxygen model: leaks on record alone.",
    ]


def assumption_groups() -> list[Group]:
    """Every number of the model, each in exactly one group; groups without any are left out."""
    table = assumptions_table()
    groups = [
        Group(basis, title, lead, [row for row in table if row.basis == basis])
        for basis, (title, lead) in WORDS.items()
    ]
    return [group for group in groups if group.rows]


def band_rows() -> list[tuple[str, str]]:
    """What to do, and the scores that say so."""
    edges = BAND_EDGES
    words = [
        f"below {edges[0]:g}",
        *(f"{low:g} to {high:g}" for low, high in zip(edges, edges[1:], strict=False)),
        f"{edges[-1]:g} and above",
    ]
    return list(zip(BANDS, words, strict=True))


def likelihood_words() -> dict[int, str]:
    edges = [f"{100 * edge:g}" for edge in LIKELIHOOD_EDGES]
    middle = [f"{low} to {high} %" for low, high in zip(edges, edges[1:], strict=False)]
    words = [f"below {edges[0]} %", *middle, f"{edges[-1]} % and above"]
    return dict(enumerate(words, start=1))


def consequence_words() -> dict[int, str]:
    return {level: f"× {factor:g}" for level, factor in CONSEQUENCE_MULTIPLIER.items()}
