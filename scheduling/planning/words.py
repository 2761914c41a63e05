"""Refusals of the plan as sentences of the book, with the names that people know."""

from datetime import date

from django.utils.translation import gettext, ngettext

from registry.words.spoken import numeral, written
from registry.words.told.retelling import retold
from scheduling.crews import Refusal, Rule
from scheduling.models import Crew, Task
from scheduling.planning.book import Week
from scheduling.planning.gas import whole_cylinders
from scheduling.planning.said.hours import at, hours_text


def day_words(day: date) -> str:
    return written(day, "%a %-d %b")


def order_words(task: Task) -> str:
    return f"{task.system.tag}, {retold(task.title)}"


def refusal_words(week: Week, refusal: Refusal, crew: Crew, day: date) -> str:
    """Why a crew cannot do a day, as a whole sentence."""
    task = week.tasks[refusal.order] if refusal.order is not None else None
    said = _said(week, refusal, task)
    facts = {"crew": crew, "day": day_words(day), "order": order_words(task) if task else ""}
    return said.format(**facts)


def _said(week: Week, refusal: Refusal, task: Task | None) -> str:
    numbers = refusal.numbers
    if refusal.rule is Rule.AWAY:
        return gettext("{crew} does not go out on {day}.")
    if refusal.rule is Rule.SKILLS:
        return gettext("{order} needs {skills}; {crew} has not said that it can.").replace(
            "{skills}", ", ".join(refusal.skills)
        )
    if refusal.rule is Rule.VAN:
        return _van(numbers)
    if refusal.rule is Rule.EARLIEST:
        return gettext("{order} does not count before its window opens.")
    if refusal.rule is Rule.FIXED:
        return gettext("{order} has a booking that stays.")
    if refusal.rule is Rule.WINDOW:
        return _window(numbers, week, refusal.order)
    if refusal.rule is Rule.HOURS:
        return _hours(numbers)
    if refusal.rule is Rule.BREAK:
        return gettext("{crew} would get no break by {by} on {day}.").replace(
            "{by}", at(numbers["by"])
        )
    if refusal.rule is Rule.IMPAIRED:
        other = week.tasks[numbers["other"]]
        return gettext(
            "{order} and {other} would take two systems of one building out of service on {day}."
        ).replace("{other}", order_words(other))
    if refusal.rule is Rule.STOCK:
        return ngettext(
            "The depot would be {short} cylinder short on {when}.",
            "The depot would be {short} cylinders short on {when}.",
            whole_cylinders(numbers["short"]),
        ).format(short=whole_cylinders(numbers["short"]), when=day_words(week.days[numbers["day"]]))
    if refusal.rule is Rule.MISSING:
        return gettext("{order} is booked for {crew} on {day} and stays.")
    return gettext("{order} is in the day twice.")


def _van(numbers) -> str:
    if "needs" not in numbers:
        return gettext("{crew} has no time on {day} to go back for the cylinders of {order}.")
    holds = whole_cylinders(numbers["holds"])
    if not holds:
        return gettext("The van of {crew} carries no gas, and {order} needs some.")
    return (
        gettext("{order} needs {needs} cylinders; the van of {crew} holds {holds}.")
        .replace("{needs}", str(whole_cylinders(numbers["needs"])))
        .replace("{holds}", str(holds))
    )


def _window(numbers, week: Week, order: int | None) -> str:
    booked = week.problem.orders[order].fixed if order is not None else None
    if "last" not in numbers:
        if booked:
            return gettext("The building of {order} is not open then: it is open {hours}.").replace(
                "{hours}", _open_words(week, order)
            )
        return gettext("The building is not open long enough for {order} on {day}.")
    if booked:
        said = gettext("{crew} would be at {order} at {arrives} on {day}; it begins at {last}.")
    else:
        said = gettext(
            "{crew} could begin {order} at {arrives} on {day}; to be done while the building is "
            "open it must begin by {last}."
        )
    return said.replace("{arrives}", at(numbers["arrives"])).replace("{last}", at(numbers["last"]))


def _open_words(week: Week, order: int | None) -> str:
    assert order is not None
    text = hours_text(week.facts.place(week.tasks[order]).hours)
    return text or gettext("at no time")


def _hours(numbers) -> str:
    over = numbers["home"] - numbers["by"]
    return (
        gettext(
            "{crew} would be back at {home} on {day}, {over} past the latest, {by}, overtime "
            "included."
        )
        .replace("{home}", at(numbers["home"]))
        .replace("{over}", length_words(over))
        .replace("{by}", at(numbers["by"]))
    )


def length_words(minutes: int) -> str:
    hours, rest = divmod(minutes, 60)
    if not hours:
        return gettext("{rest} min").format(rest=rest)
    return gettext("{hours} h {rest:02d}").format(hours=hours, rest=rest)


def points_words(thousandths: int) -> str:
    """Score points with two significant digits below ten, and a tenth beyond."""
    points = abs(thousandths) / 1000
    text = numeral(f"{points:.1f}" if points >= 1 else f"{points:.2f}")
    return ngettext("{points} point", "{points} points", 1 if text == "1.0" else 2).format(
        points=text
    )
