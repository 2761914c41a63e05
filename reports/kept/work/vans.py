"""Day sheets: a page for each van, of the rounds that the page of the day shows."""

from collections.abc import Iterator, Sequence
from datetime import date, datetime

from django.utils.translation import gettext, ngettext

from registry.models import User
from registry.words.told.retelling import retold
from registry.words.unanswered import unanswered_in_short
from reports.kept.layout import Block, Facts, Lines, Paper, Points, Section, Table, Words
from reports.kept.words import address_words, clock_words, day_words, moment_words, system_words
from reports.kept.work.order import load_blocks
from reports.printing import paper_size
from scheduling.models import Crew
from scheduling.orders.day import Round, Stop, rounds


def day_paper(reader: User, on: date, crew: Crew | None, *, now: datetime) -> Paper:
    found = rounds(reader, on, crew, now)
    stops = sum(len(one.stops) for one in found)
    nothing = Section("", [Words(gettext("Nothing is booked on this day."))])
    return Paper(
        title=gettext("Day sheets"),
        about=day_words(on),
        place=str(crew) if crew else gettext("Every crew that the reader may see."),
        size=paper_size(reader.display_units),
        day=on,
        said=[
            ngettext("{count} stop, by {vans}", "{count} stops, by {vans}", stops).format(
                count=stops, vans=_vans(found)
            )
        ]
        if found
        else [],
        sections=list(_sections(found, reader.display_units)) or [nothing],
        name="day",
    )


def _vans(found: Sequence[Round]) -> str:
    return ngettext("{count} crew", "{count} crews", len(found)).format(count=len(found))


def _sections(found: Sequence[Round], units: str) -> Iterator[Section]:
    for number, one in enumerate(found):
        people = ", ".join(str(person) for person in one.crew.people.all()) if one.crew else ""
        load = one.total
        blocks: list[Block] = [
            Facts([(gettext("People"), people or gettext("nobody is named"))]),
            Table(
                (
                    gettext("From"), gettext("To"), gettext("Work"), gettext("System"),
                    gettext("Place"),
                ),
                [_stop_row(stop) for stop in one.stops],
                "", wide=4, also=2,
            ),
            Words(gettext("To load for all of them:")),
            Points(list(_loaded(load)) or [gettext("Nothing beyond the usual tools.")]),
        ]  # fmt: skip
        yield Section(one.name, blocks, begins_page=number > 0)
        for stop in one.stops:
            yield Section(_title(stop), list(_stop_blocks(stop, units)))
        yield Section("", [Lines((gettext("Signed out"), gettext("Signed in")))])


def _loaded(load) -> Iterator[str]:
    for label, count in load.cylinders:
        yield ngettext(
            "{count} nitrogen cylinder, {size}", "{count} nitrogen cylinders, {size}", count
        ).format(count=count, size=label)
    yield from load.things
    if load.unknown:
        words = ngettext(
            "For {count} job no number of cylinders is known.",
            "For {count} jobs no number of cylinders is known.",
            load.unknown,
        )
        yield words.format(count=load.unknown)


def _title(stop: Stop) -> str:
    begins = clock_words(stop.starts, stop.task.zone)
    return f"{begins} {retold(stop.task.title)}: {stop.task.system.tag}"


def _stop_row(stop: Stop) -> tuple[str, ...]:
    task = stop.task
    return (
        clock_words(stop.starts, task.zone),
        clock_words(stop.ends, task.zone),
        retold(task.title),
        system_words(task.system),
        task.system.place,
    )


def _stop_blocks(stop: Stop, units: str) -> Iterator[Block]:
    system = stop.task.system
    note = system.building.access_note if system.building else ""
    facts = [
        (gettext("Where"), f"{system.place}. {address_words(system.site)}"),
        (gettext("Access"), note or gettext("no note")),
    ]
    if system.is_incomplete:
        facts.append((gettext("Register"), system.incomplete_words))
    if stop.out_since:
        since = moment_words(stop.out_since, stop.task.zone)
        missing = unanswered_in_short(getattr(stop.task, "protection_unanswered", ""))
        facts.append((gettext("Out of service since"), f"{since} {missing}".rstrip()))
    if not stop.task.is_open:
        facts.append((gettext("State"), str(stop.task.get_status_display())))
    connect = "; ".join(_fitting_words(one) for one in stop.fittings)
    facts.append(
        (gettext("Connect at"), connect or gettext("no vents, ports or drains in the register"))
    )
    yield Facts(facts)
    yield from load_blocks(stop.load, units)


def _fitting_words(one) -> str:
    parts = (" ".join(part for part in (str(one.get_kind_display()), one.label) if part),)
    return ", ".join((*parts, one.location) if one.location else parts)
