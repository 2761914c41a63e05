"""Telephone numbers in notes, as links that dial."""

import re

from django import template
from django.utils.html import conditional_escape, format_html
from django.utils.safestring import SafeString, mark_safe

register = template.Library()

NUMBER = re.compile(r"(?<![\w.,/-])\+?\(?\d[\d ()./-]{5,18}\d(?![\w/-])")
DAY = re.compile(r"\d{4}-\d{2}-\d{2}|\d{1,2}[./]\d{1,2}[./]\d{2,4}")
FEWEST, MOST = 7, 15  # digits; ITU-T E.164 allows fifteen


@register.filter
def dialled(text: str) -> SafeString:
    """The text with each telephone number as a `tel:` link (RFC 3966); days stay as they are."""
    parts, last = [], 0
    for match in NUMBER.finditer(text):
        digits = re.sub(r"\D", "", match[0])
        if DAY.fullmatch(match[0].strip()) or not FEWEST <= len(digits) <= MOST:
            continue
        number = ("+" if match[0].startswith("+") else "") + digits
        parts.append(conditional_escape(text[last : match.start()]))
        parts.append(format_html('<a href="tel:{}">{}</a>', number, match[0]))
        last = match.end()
    parts.append(conditional_escape(text[last:]))
    return mark_safe("".join(parts))  # noqa: S308  each part is escaped above  # nosec B308
