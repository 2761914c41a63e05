"""Days, moments and places as reports say them, by the language of the reader."""

from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.utils.formats import date_format, time_format
from django.utils.translation import gettext

from registry.models import Assessment, Site, System
from registry.templatetags.risk import points

DAY_FORMAT = "j F Y"
SHORT_FORMAT = "j M Y"


def day_words(day: date) -> str:
    return date_format(day, DAY_FORMAT)


def short_day(day: date) -> str:
    return date_format(day, SHORT_FORMAT)


def moment_words(when: datetime, zone: ZoneInfo) -> str:
    local = when.astimezone(zone)
    return f"{day_words(local.date())}, {time_format(local.time(), 'H:i')} {local:%Z}"


def clock_words(when: datetime, zone: ZoneInfo) -> str:
    return time_format(when.astimezone(zone).time(), "H:i")


def score_words(score: float | None, band: str) -> str:
    """The number and the word of its band, never one without the other."""
    if score is None:
        return gettext("not known")
    return f"{points(score)} {str(Assessment.Band(band).label).lower()}"


def address_words(site: Site) -> str:
    lines = [line.strip() for line in site.address.split("\n") if line.strip()]
    return ", ".join(lines) or gettext("not recorded")


def system_words(system: System) -> str:
    return f"{system.tag}, {str(system.get_kind_display()).lower()}"
