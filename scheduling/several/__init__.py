"""One deed at many systems: each in its own transaction, each refused by itself, by name."""

from scheduling.several.deeds import DEEDS, MOST, Deed, Outcome, carry_out
from scheduling.several.forms import SeveralForm

__all__ = ["DEEDS", "MOST", "Deed", "Outcome", "SeveralForm", "carry_out"]
