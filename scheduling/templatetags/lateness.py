"""When work is late, in the one way of the book: {% due_or_late task.due_at system page.now %}."""

from datetime import datetime

from django import template
from django.utils.formats import date_format
from django.utils.html import format_html
from django.utils.safestring import SafeString

from registry.models import System
from scheduling.lateness import days_late, late_words
from scheduling.lateness.words import last_day

register = template.Library()


@register.simple_tag
def due_or_late(ends_at: datetime, system: System, now: datetime) -> SafeString:
    """The last day in time, or by how many days it is past."""
    zone = system.site.zone
    days = days_late(ends_at, zone, now)
    if days is None:
        return format_html("{}", date_format(last_day(ends_at, zone), "j M Y"))
    return format_html('<span class="late">{}</span>', late_words(days))
