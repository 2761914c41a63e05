"""Quiet hours by the clock on the reader's wall (pure)."""

from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo


def quiet_until(now: datetime, zone: ZoneInfo, start: time, end: time) -> datetime | None:
    """When the quiet that holds at `now` ends; None when it is not quiet. Hours that end before
    they start run past midnight; hours that end when they start are none."""
    local = now.astimezone(zone)
    if not _is_within(local.time(), start, end):
        return None
    day = local.date() if local.time() < end else local.date() + timedelta(days=1)
    ends = datetime.combine(day, end, zone).astimezone(UTC)
    # An end that the clock skips or shows twice must still lie ahead.
    return ends if ends > now else ends + timedelta(hours=1)


def _is_within(clock: time, start: time, end: time) -> bool:
    if start <= end:
        return start <= clock < end
    return clock >= start or clock < end
