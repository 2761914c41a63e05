"""Changes to the register itself, written by the services that make them."""

from registry.kinds.parts import Field, Kind, text

REGISTER = (
    Kind("register.system", "System entered", "register", is_entered_by_hand=False),
    Kind("register.amended", "Register facts changed", "register", is_entered_by_hand=False),
    Kind(
        "register.pipe",
        "Pipe run entered",
        "register",
        is_entered_by_hand=False,
        is_for_managers=True,
    ),
    Kind(
        "register.assumption",
        "Assumption of the corrosion model changed",
        "register",
        "A number the model assumes, set for this system alone; the note says why.",
        (
            text("key", "Assumption", required=True),
            text("unit", "Unit"),
            Field("value", "Value", "number", help="Empty: back to the model's own."),
            Field("before", "Before", "number"),
        ),
        is_entered_by_hand=False,
    ),
    Kind(
        "register.withdrawn",
        "Withdrawn: entered by mistake",
        "register",
        fields=(text("reason", "Reason", required=True),),
        is_entered_by_hand=False,
    ),
)
