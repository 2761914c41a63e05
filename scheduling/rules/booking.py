"""When a follow-up may be booked: pure checks, each naming the answer it is about."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

SHORTEST, LONGEST = timedelta(minutes=15), timedelta(days=1)
JUST_NOW = timedelta(minutes=15)


@dataclass(frozen=True, slots=True)
class Wish:
    """The time asked for, and why it may lie after the due day."""

    starts_at: datetime
    ends_at: datetime
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Window:
    """When the work counts from, and until when it is in time."""

    opens_at: datetime | None
    due_at: datetime
    zone: ZoneInfo

    def day(self, when: datetime) -> str:
        return f"{when.astimezone(self.zone):%-d %B %Y, %H:%M}"


def problems(wish: Wish, window: Window, now: datetime) -> dict[str, str]:
    """Refusals by the field they belong to; empty when the time will do."""
    length = wish.ends_at - wish.starts_at
    if length <= timedelta(0):
        return {"ends": "The work must end after it begins; give a later time."}
    found = {}
    if not SHORTEST <= length <= LONGEST:
        found["ends"] = "Book between a quarter of an hour and a day; longer work takes several."
    if wish.starts_at < now - JUST_NOW:
        found["day"] = f"This has passed; it is {window.day(now)} at the site."
    elif window.opens_at and wish.starts_at < window.opens_at:
        found["day"] = (
            f"Work before {window.day(window.opens_at)} does not count for this follow-up; "
            "book it then or later."
        )
    if wish.ends_at > window.due_at and not wish.reason.strip():
        found["reason"] = (
            f"This is later than {window.day(window.due_at)}, until when the work is in time; say "
            "why, or book it sooner."
        )
    return found
