"""What a plan assumed where nobody said otherwise, as sentences for its page."""

from collections import Counter
from collections.abc import Iterable

from django.utils.translation import gettext

from registry.words.spoken import Number
from scheduling.planning.book import Week
from scheduling.planning.gas import LEAST_FACTOR, MOST_FACTOR
from scheduling.planning.said.assumed import KINDS, OVERTIME_MINUTES, USUAL, VAN_PLACES
from scheduling.planning.said.hours import at
from scheduling.planning.words import length_words
from scheduling.rules import work_of

MOST_NAMED = 6


def assumed_words(week: Week) -> list[str]:
    return [*_of_sites(week), *_of_crews(week), *_of_work(week), *_of_gas(week), *_of_roads(week)]


def _named(names: Iterable[object]) -> str:
    found = sorted({str(name) for name in names})
    more = len(found) - MOST_NAMED
    listed = "; ".join(found[:MOST_NAMED])
    return (
        gettext("{listed} and {more} more").format(listed=listed, more=more) if more > 0 else listed
    )


def _of_sites(week: Week) -> list[str]:
    facts, said = week.facts, []
    unplaced = [task.system.site for task in week.tasks if not facts.place(task).is_placed]
    if unplaced:
        said.append(
            gettext("{sites}: not on the map; taken to lie {minutes} min from the depot.").format(
                sites=_named(unplaced), minutes=facts.policy.minutes_unplaced
            )
        )
    closed = [task.system.place for task in week.tasks if not facts.place(task).has_hours]
    if closed:
        said.append(
            gettext("{places}: no hours of access; taken to be open all day, every day.").format(
                places=_named(closed)
            )
        )
    unnamed = Counter(
        task.system.site
        for task in week.tasks
        if task.system.building_id is None and facts.kind_of(task).impairs
    )
    if apart := [site for site, count in unnamed.items() if count > 1]:
        said.append(
            gettext(
                "{sites}: no building named for some systems; they count as one building, of which "
                "one system a day is taken out of service."
            ).format(sites=_named(apart))
        )
    return said


def _of_crews(week: Week) -> list[str]:
    facts = week.facts
    without_hours = [crew for crew in week.crews if not crew.hours]
    without_places = [crew for crew in week.crews if crew.cylinder_places is None]
    without_overtime = [crew for crew in week.crews if crew.overtime_minutes is None]
    without_depot = [crew for crew in week.crews if facts.depot_of(crew) is None]
    said = []
    if without_hours:
        text = gettext("{crews}: no hours; taken to work Monday to Friday, 8:00 to 17:00.")
        said.append(text.format(crews=_named(without_hours)))
    if without_places:
        text = gettext("{crews}: no places for cylinders; taken to carry {places}.")
        said.append(text.format(crews=_named(without_places), places=VAN_PLACES))
    if without_overtime:
        text = gettext("{crews}: overtime of up to {minutes} min taken to be allowed.")
        said.append(text.format(crews=_named(without_overtime), minutes=OVERTIME_MINUTES))
    if without_depot:
        text = gettext("{crews}: no depot; taken to set out from the middle of the known places.")
        said.append(text.format(crews=_named(without_depot)))
    return said


def _of_work(week: Week) -> list[str]:
    kinds = {task.kind for task in week.tasks if not task.is_booked} - set(week.facts.work_times)
    said = []
    for kind in sorted(kinds):
        usual = KINDS.get(kind, USUAL)
        label = work_of(kind).label
        if usual.minutes_per_m3:
            text = gettext("{kind}: taken to last {length} and {more:g} min a cubic metre of pipe.")
        else:
            text = gettext("{kind}: taken to last {length}.")
        said.append(
            text.format(
                kind=label,
                length=length_words(usual.minutes),
                more=Number(usual.minutes_per_m3 or 0),
            )
        )
    return said


def _of_gas(week: Week) -> list[str]:
    said = []
    uncounted = [depot.row for depot in week.facts.depots if depot.full_cylinders is None]
    if uncounted and week.gas:
        said.append(
            gettext("{depots}: cylinders not counted; taken never to run out.").format(
                depots=_named(row or gettext("The depot") for row in uncounted)
            )
        )
    by_key = {task.pk: task for task in week.tasks}
    unknown = [by_key[key].system.tag for key, gas in week.gas.items() if gas.why]
    if unknown:
        said.append(
            gettext("{tags}: nobody can say how much gas; taken to need none.").format(
                tags=_named(unknown)
            )
        )
    for key, gas in sorted(week.gas.items()):
        if gas.factor != 1.0:
            said.append(
                gettext(
                    "{tag}: its last run used {factor:.1f} times the gas planned, so its order "
                    "counts as much (between {least:g} and {most:g})."
                ).format(
                    tag=by_key[key].system.tag,
                    factor=Number(gas.factor),
                    least=Number(LEAST_FACTOR),
                    most=Number(MOST_FACTOR),
                )  # fmt: skip
            )
    return said


def _of_roads(week: Week) -> list[str]:
    policy = week.facts.policy
    if policy.pk is not None:
        return []
    return [
        gettext(
            "Ways: {speed:.0f} km/h, {detour} % of the straight line; a break of {minutes} min "
            "begins between {first} and {last}."
        ).format(
            speed=policy.metres_per_minute * 60 / 1000,
            detour=policy.detour_percent,
            minutes=policy.break_minutes,
            first=at(policy.break_from.hour * 60 + policy.break_from.minute),
            last=at(policy.break_to.hour * 60 + policy.break_to.minute),
        )
    ]
