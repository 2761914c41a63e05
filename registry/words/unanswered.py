"""What nobody has said of an outage, as sentences."""

from django.utils.translation import gettext

from registry.protection import safety
from registry.translation import _

UNANSWERED = {
    safety.PLANNED: _("Whether it was planned is not known."),
    safety.LEAVE: _("Whether the owner gave leave is not known."),
    safety.TOLD: _("Whether everybody was told is not known."),
    safety.WATCH: _("Whether there is a fire watch is not known."),
}

IN_SHORT = {
    safety.PLANNED: _("planned or not"),
    safety.LEAVE: _("owner's leave"),
    safety.TOLD: _("who was told"),
    safety.WATCH: _("fire watch"),
}


def unanswered_words(codes: str | None) -> str:
    """`codes` as a span of protection keeps them."""
    return " ".join(str(UNANSWERED[code]) for code in (codes or "").split())


def unanswered_in_short(codes: str | None) -> str:
    """For rows and cells; empty where everything was answered."""
    if not codes:
        return ""
    return gettext("Not known: {what}.").format(
        what=", ".join(str(IN_SHORT[code]) for code in codes.split())
    )
