"""What changes no state."""

from registry.kinds.parts import (
    Kind,
    text,
)
from registry.translation import _

OBSERVATION = Kind(
    "event.observation",
    _("Observation"),
    _("Anything worth keeping; changes no state."),
    (text("text", _("What was seen"), required=True),),
    is_logged_at_riser=True,
)

OBSERVATIONS = (OBSERVATION,)
