"""The cautions shown where work is planned or logged: what can happen, what to do, who decides.

They inform and never block a record. Figures name their source; the rest is common practice,
no source. The edition adopted where the system stands may say otherwise and prevails.
"""

from dataclasses import dataclass

from registry.translation import _

LOCAL_RULE = _(
    "local codes, the adopted edition of the standard and the authority "
    "having jurisdiction, carried out under licensed practice"
)


@dataclass(frozen=True)
class Caution:
    name: str
    title: str
    can_happen: str
    do: str
    decides: str = LOCAL_RULE
    source: str = _("common practice, no source")


_ALL = (
    Caution(
        "draining",
        _("Draining takes the fire protection away"),
        _("While the pipe is empty a fire in the area is not held back."),
        _(
            "Follow the impairment procedure: name a coordinator, tell the "
            "authority, the fire department, the insurer and the monitoring company, "
            "and hang the impairment tag. Out of service for more than 10 hours in "
            "any 24 hours calls for a fire watch or an equal measure. Test and tell "
            "all of them again when the system is back."
        ),
        source=_(
            "10 h in 24 h: NFPA 25 chapter 15 and NFPA 1 section 13.1.9; verify "
            "against your edition"
        ),
    ),
    Caution(
        "nitrogen",
        _("Nitrogen displaces the air people breathe"),
        _(
            "It has no smell and gives no warning: a person in poor air can faint "
            "before noticing it. Below 19.5 % oxygen the room is oxygen-deficient."
        ),
        _(
            "Lead the vented gas outdoors or ventilate the room, wear an oxygen "
            "monitor, and do not work alone. Leave when it alarms; do not go back in "
            "for a colleague without supplied air."
        ),
        decides=_(
            "the employer's safety officer and local rules for confined and oxygen-deficient spaces"
        ),
        source=_("19.5 % by volume: 29 CFR 1910.146(b) and 1910.134(b)"),
    ),
    Caution(
        "cylinders",
        _("Cylinders hold gas at high pressure"),
        _("A cylinder that falls can lose its valve and fly; an unsuitable regulator can burst."),
        _(
            "Chain each cylinder upright, cap it when it is moved, use a regulator "
            "made for nitrogen and for the pressure of the cylinder, open the valve "
            "slowly and stand to the side."
        ),
        decides=_("the gas supplier's instructions and local rules for compressed gas"),
    ),
    Caution(
        "oxygen",
        _("Never use oxygen in place of nitrogen"),
        _(
            "Oxygen under pressure with oil, grease or rust ignites and burns steel, "
            "and it feeds the corrosion this work is to stop."
        ),
        _(
            "Read the label on every cylinder, and never go by its colour alone. Do "
            "not adapt a fitting that does not match. If in doubt, send the cylinder "
            "back."
        ),
        decides=_("the gas supplier; a cylinder without a readable label is not used"),
    ),
    Caution(
        "cpvc",
        _("No compressed gas in CPVC pipe"),
        _("Plastic pipe under gas pressure breaks into flying pieces."),
        _(
            "Do not inert or leak-test a system with any CPVC in the gas-filled "
            "part. Shut that part off or leave the system as it is."
        ),
        decides=_("the pipe maker's instructions and the authority having jurisdiction"),
        source=_("ASTM F442/F442M warns of testing with compressed gas; check the adopted edition"),
    ),
    Caution(
        "pressure",
        _("Stay below the rated pressure of the weakest component"),
        _(
            "Gas stores far more energy than water: a part that lets go does so "
            "violently. The rating is read off the components themselves."
        ),
        _(
            "Set the regulator before the cylinder is connected, watch the gauge "
            "while it fills, and have a relief valve in the line. Clear the area of "
            "people who are not needed."
        ),
        decides=_("the component listings, the engineer of record and the adopted standard"),
    ),
    Caution(
        "local_codes",
        _("This book does not decide what is allowed"),
        _("A plan worked out here can still be against a rule where the system stands."),
        _(
            "Check the plan against the adopted edition and the owner's own rules "
            "before work begins, and have it done by people licensed for it."
        ),
    ),
)

CAUTIONS = {caution.name: caution for caution in _ALL}
