"""From when no leak on record is taken to mean no leak: said alike on the page and on paper."""

from django.utils.translation import gettext

from registry.assess import Case
from registry.assess.clock import moment
from registry.corrosion.evidence import MEAN_DATING
from registry.templatetags.risk import model_number


def watch_words(case: Case) -> str:
    """What the absence of leaks counts for, from when to when, and what of it is assumed."""
    given = case.input.assumptions
    since, months = _since(case), 12 * MEAN_DATING * float(given.leak_dating_years)
    if case.input.leaks:
        counted = gettext(
            "Every leak on record counts, and so do the years without one {since}."
        ).format(since=since)
    else:
        counted = gettext(
            "No pinhole leak is on record. That is taken to mean that there was none "
            "{since}, and counts for the system."
        ).format(since=since)
    lately = gettext(
        "The last {months} months before the assessment do not count yet: a leak "
        "that opened in them need not have been found."
    ).format(months=model_number(months))
    remedy = gettext(
        "If every leak since another day would be known, say so among the facts of the system; if "
        "earlier ones are known, enter them."
    )
    return " ".join([counted, lately, remedy])


def _since(case: Case) -> str:
    """From when a leak would be on record: the day the book began, unless set for the system."""
    system, years = case.book.system, float(case.input.assumptions.leaks_known_years)
    zone = system.site.zone
    since = max((case.input.book_began_yr or case.input.now_yr) - years, case.input.installed_yr)
    words = system.day_words(moment(since).astimezone(zone))
    if years:
        return gettext("since {day}, {years} years before the book began").format(
            day=words, years=model_number(years)
        )
    return gettext("since the book began ({day})").format(day=words)
