"""What the owner wants done that nothing in the pipe asks for."""

from registry.kinds.parts import GAS, WATER, Field, Kind

REQUESTS = (
    Kind(
        "request.inerting",
        "Inerting wanted",
        "request",
        "The owner wants pipe that holds air filled with nitrogen. Raises the order for it.",
        (
            Field(
                "wanted_by",
                "Wanted by",
                "date",
                help="The last day. Leave it empty for the days that the rule gives.",
                is_ahead=True,
            ),
        ),
        ("draining", "nitrogen", "cylinders"),
        system_kinds=(*WATER, *GAS),
        is_for_managers=True,
        moment="When it was decided",
    ),
)
