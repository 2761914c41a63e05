"""From when no leak on record is taken to mean no leak: said alike on the page and on paper."""

from datetime import datetime, time

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
        "If earlier leaks were not written down, the score is too low: enter "
        "those that are known, or set leaks_unknown_years for this system."
    )
    return " ".join([counted, *_assumed(case), lately, remedy])


def _since(case: Case) -> str:
    system, years = case.book.system, float(case.input.assumptions.leaks_unknown_years)
    if not years:
        put_in = datetime.combine(system.installed_on, time(12), tzinfo=system.site.zone)
        return gettext("since the pipe was put in ({put_in})").format(
            put_in=system.day_words(put_in)
        )
    return gettext("since {case:%B %Y}, {years} years after it was put in").format(
        case=_watched_from(case), years=model_number(years)
    )


def _watched_from(case: Case) -> datetime:
    years = float(case.input.assumptions.leaks_unknown_years)
    since = min(case.input.installed_yr + years, case.input.now_yr)
    return moment(since).astimezone(case.book.system.site.zone)


def _assumed(case: Case) -> list[str]:
    """Nothing where somebody wrote down what happened all the time."""
    system, began = case.book.system, case.book.began_at
    if _watched_from(case) >= began:
        return []
    return [
        gettext("The register began on {began}: of the time before, this is assumed.").format(
            began=system.day_words(began)
        )
    ]
