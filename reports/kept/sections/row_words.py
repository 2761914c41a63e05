"""Words that several sections of a report have in common."""

from django.utils.translation import gettext, ngettext

from registry.models import AtmosphereSpan, ProtectionSpan
from registry.templatetags.risk import life, life_band
from reports.kept.standing import Standing


def state_words(row: Standing) -> str:
    if not row.state:
        return gettext("not derived")
    return str(AtmosphereSpan.State(row.state).label)


def protection_words(row: Standing) -> str:
    return str(ProtectionSpan.State(row.protection_state).label)


def life_words(row: Standing) -> str:
    if row.life_mid_yr is None:
        return gettext("not known")
    return f"{life(row.life_mid_yr)} ({life_band(row)})"


def left_out(count: int, shown: int) -> str:
    """That there is more than is listed; empty where there is not."""
    more = count - shown
    if more <= 0:
        return ""
    return ngettext(
        "{more} more is not listed here.", "{more} more are not listed here.", more
    ).format(more=more)
