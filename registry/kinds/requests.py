"""What the owner wants done that nothing in the pipe asks for."""

from registry.kinds.parts import GAS_PIPE, WET_PIPE, Field, Kind
from registry.translation import _

INERTING_WANTED = Kind(
    "request.inerting",
    _("Inerting wanted"),
    _("The owner wants pipe that holds air filled with nitrogen. Raises the order for it."),
    (
        Field(
            "wanted_by",
            _("Wanted by"),
            "date",
            help=_("The last day. Leave it empty for the days that the rule gives."),
            is_ahead=True,
        ),
    ),
    ("draining", "nitrogen", "cylinders"),
    system_kinds=(*WET_PIPE, *GAS_PIPE),
    is_for_managers=True,
    moment=_("When it was decided"),
)

REQUESTS = (INERTING_WANTED,)
