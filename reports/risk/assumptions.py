"""The numbers of the corrosion model as a page shows them: grouped by how each is known."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext

from registry.assess.cases import USUAL_WATER_GAUGE_PA
from registry.assess.fills import SAME_OUTAGE
from registry.assess.gas import OPEN_PIPE_TURNOVER, TEST_FLOW_SHARE
from registry.corrosion.assumptions import MODEL_VERSION, assumptions_table
from registry.corrosion.constants import Constant
from registry.corrosion.inputs import CONSEQUENCE_MULTIPLIER
from registry.corrosion.score import BAND_EDGES, BANDS, LIKELIHOOD_EDGES
from registry.quantities import format_quantity
from registry.translation import _
from registry.words.spoken import Number

WORDS = {
    "assumed": (
        _("Assumed"),
        _("Chosen so that results land where practice does, or for want of better."),
    ),
    "published": (_("Published"), _("Standards and handbooks; check the primary document.")),
    "measured": (_("Measured"), _("Readings of the world.")),
}


@dataclass(frozen=True)
class AssumptionGroup:
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
        gettext(
            "What happened before the register began is assumed as above; events "
            "entered for that time come on top of it."
        ),
        gettext(
            "Water-filled pipe that was opened is taken to have been filled again "
            "the same day, unless a fill is on record or another opening followed "
            "within {days} days."
        ).format(days=SAME_OUTAGE.days),
        gettext(
            "Each fill traps the gas that the atmosphere then shows; the next fill "
            "is expected to trap what the pipe holds now, and air where it is "
            "aerated."
        ),
        gettext(
            "Fills to expect: those on record, with the assumed rate weighing as two years of them."
        ),
        gettext(
            "Water pressure that is not recorded is taken as {water}. Common practice, no source."
        ).format(water=water),
        gettext(
            "A test flow of unknown amount renews {TEST_FLOW_SHARE:.0%} of the water. Assumed."
        ).format(TEST_FLOW_SHARE=TEST_FLOW_SHARE),
        gettext(
            "The air in deluge pipe is renewed {OPEN_PIPE_TURNOVER:g} times a year. Assumed."
        ).format(OPEN_PIPE_TURNOVER=Number(OPEN_PIPE_TURNOVER)),
        gettext(
            "A wall reading counts for the run it names, else for the run of its size and role, "
            "the longest of several; how it was taken says how likely it lies on the attack. One "
            "within a year of installation is the wall as built. A coupon counts for the longest "
            "run of steel."
        ),
        gettext(
            "A leak counts when it is said to be a pinhole in pipe. That none is on record counts "
            "as evidence too, from the day the book began, or the day since which the owner knows "
            "of leaks, until half of the time within which a leak is dated, before the "
            "assessment: as long ago as a leak found today opened on average, since what opened "
            "later need not have been found."
        ),
        gettext(
            "Under one belief about a system (reasons, costs of events and of delay, measures) "
            "more oxygen never lowers a score. A history that the pipe was watched to outlive is "
            "evidence as well: a breach entered late may lower the score of gas-filled pipe."
        ),
        gettext(
            "Copper, stainless steel and CPVC are outside the oxygen model: leaks on record alone."
        ),
    ]


def assumption_groups() -> list[AssumptionGroup]:
    """Every number of the model, each in exactly one group; groups without any are left out."""
    table = assumptions_table()
    groups = [
        AssumptionGroup(basis, title, lead, [row for row in table if row.basis == basis])
        for basis, (title, lead) in WORDS.items()
    ]
    return [group for group in groups if group.rows]


def band_rows() -> list[tuple[str, str]]:
    """What to do, and the scores that say so."""
    edges = BAND_EDGES
    words = [
        gettext("below {score:g}").format(score=Number(edges[0])),
        *(
            gettext("{low:g} to {high:g}").format(low=Number(low), high=Number(high))
            for low, high in zip(edges, edges[1:], strict=False)
        ),
        gettext("{score:g} and above").format(score=Number(edges[-1])),
    ]
    return list(zip(BANDS, words, strict=True))


LIKELIHOODS = (_("rare"), _("seldom"), _("possible"), _("likely"), _("near"))
"""Of a leak within five years, least first; none of them is a word of the score."""


def likelihood_words() -> dict[int, str]:
    """The word of each level and the probabilities that it stands for."""
    edges = [f"{Number(100 * edge):g}" for edge in LIKELIHOOD_EDGES]
    within = [
        gettext("below {edge} %").format(edge=edges[0]),
        *(
            gettext("{low} to {high} %").format(low=low, high=high)
            for low, high in zip(edges, edges[1:], strict=False)
        ),
        gettext("{edge} % and above").format(edge=edges[-1]),
    ]
    pairs = zip(LIKELIHOODS, within, strict=True)
    return {level: f"{word}, {share}" for level, (word, share) in enumerate(pairs, start=1)}


def consequence_words() -> dict[int, str]:
    return {level: f"× {Number(factor):g}" for level, factor in CONSEQUENCE_MULTIPLIER.items()}
