"""Changes to the register itself, written by the services that make them."""

from registry.atmosphere import GasEffect, feeds
from registry.kinds.parts import Field, Kind, text
from registry.translation import _

SYSTEM_ENTERED = Kind(
    "register.system",
    _("System entered"),
    is_entered_by_hand=False,
    is_news=False,
    changes_recurring_work=True,
)

FACTS_AMENDED = Kind(
    "register.amended",
    _("Register facts changed"),
    is_entered_by_hand=False,
    gas=GasEffect(feed=feeds.after_amendment, tells_former_feed=True),
    changes_recurring_work=True,
)

PIPE_ENTERED = Kind(
    "register.pipe",
    _("Pipe run entered"),
    is_entered_by_hand=False,
    is_for_managers=True,
    is_taken_back_by_hand=True,
    is_news=False,
)

ASSUMPTION_CHANGED = Kind(
    "register.assumption",
    _("Assumption of the corrosion model changed"),
    _("A number the model assumes, set for this system alone; the note says why."),
    (
        text("key", _("Assumption"), required=True),
        text("unit", _("Unit")),
        Field("value", _("Value"), "number", help=_("Empty: back to the model's own.")),
        Field("before", _("Before"), "number"),
    ),
    is_entered_by_hand=False,
)

WITHDRAWN = Kind(
    "register.withdrawn",
    _("Withdrawn: entered by mistake"),
    fields=(text("reason", _("Reason"), required=True),),
    is_entered_by_hand=False,
)

FILE_TAKEN_BACK = Kind(
    "register.file_taken_back",
    _("File taken back"),
    _("A photo or document that should not be there: it is shown no longer, its digest stays."),
    (
        Field("of", _("Record that it came with"), "integer", is_required=True, low=1),
        text("file", _("Name and SHA-256 of the file"), required=True),
        text("reason", _("Reason"), required=True),
    ),
    is_entered_by_hand=False,
    is_news=False,
)

REGISTER = (
    SYSTEM_ENTERED,
    FACTS_AMENDED,
    PIPE_ENTERED,
    ASSUMPTION_CHANGED,
    WITHDRAWN,
    FILE_TAKEN_BACK,
)
