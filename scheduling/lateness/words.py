"""How late something is, in the words of every page."""

from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from django.utils.translation import gettext, ngettext

INSTANT = timedelta(microseconds=1)


def last_day(ends_at: datetime, zone: ZoneInfo) -> date:
    """The last day at the site on which the work is still in time."""
    return (ends_at - INSTANT).astimezone(zone).date()


def days_late(ends_at: datetime, zone: ZoneInfo, now: datetime) -> int | None:
    """Days past the last day in time, by the clock at the site; None while it is in time."""
    if ends_at > now:
        return None
    return (now.astimezone(zone).date() - last_day(ends_at, zone)).days


def late_words(days: int) -> str:
    """“3 days late”; on the day itself, where the hour has passed, “late since today”."""
    if days <= 0:
        return gettext("late since today")
    return ngettext("%(days)s day late", "%(days)s days late", days) % {"days": days}
