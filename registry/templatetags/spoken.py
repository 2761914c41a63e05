"""Days in templates, by the English patterns of the project, in the reader's language."""

from typing import Any

from django import template
from django.template.defaultfilters import date as django_date
from django.utils import timezone

from registry.words.spoken import django_pattern, numeral
from registry.words.told.retelling import retold
from registry.words.unanswered import unanswered_in_short

register = template.Library()
register.filter("retold", retold)
register.filter("not_known_in_short", unanswered_in_short)
register.filter("numeral", numeral, is_safe=True)


@register.filter("date", expects_localtime=True, is_safe=False)
def date(value: Any, pattern: str | None = None) -> Any:
    """In place of Django's: “j F Y” is “3 March 2026” and “3 de marzo de 2026”."""
    return django_date(value, django_pattern(pattern) if pattern else pattern)


@register.simple_tag
def now_words(pattern: str) -> str:
    """This moment; for what is printed."""
    return str(date(timezone.localtime(), pattern))
