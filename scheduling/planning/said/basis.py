"""What an organisation's plans rest on, for its page: what is stated and what is assumed."""

from collections.abc import Sequence
from dataclasses import dataclass

from registry.corrosion.cylinders import cylinder_sizes
from registry.models import Organisation, Site, User
from registry.words.told.retelling import retold
from scheduling.models import Crew, Depot, Place, PlanningPolicy, WorkTime
from scheduling.planning.facts import policy_of
from scheduling.planning.said.assumed import CREW_HOURS, KINDS, OVERTIME_MINUTES, USUAL, VAN_PLACES
from scheduling.planning.said.hours import hours_text
from scheduling.rules import works
from scheduling.rules.types import Work

MOST_SITES = 300


@dataclass(frozen=True)
class WorkRow:
    work: Work
    minutes: int
    minutes_per_m3: float
    skills: str
    impairs: bool
    is_assumed: bool


@dataclass(frozen=True)
class CrewRow:
    crew: Crew
    hours: str
    places: int
    overtime: int


@dataclass(frozen=True)
class SiteRow:
    site: Site
    place: Place | None
    buildings: Sequence[Place]


@dataclass(frozen=True)
class Basis:
    organisation: Organisation
    policy: PlanningPolicy
    depots: Sequence[Depot]
    crews: Sequence[CrewRow]
    works: Sequence[WorkRow]
    sites: Sequence[SiteRow]

    @property
    def speed_km_h(self) -> float:
        return self.policy.metres_per_minute * 60 / 1000

    @property
    def cylinder(self) -> str:
        return retold(cylinder_sizes()[self.policy.cylinder].label)


def basis_of(organisation: Organisation, user: User) -> Basis:
    stated = {row.kind: row for row in organisation.work_times.all()}
    return Basis(
        organisation=organisation,
        policy=policy_of(organisation),
        depots=list(organisation.depots.all()),
        crews=[_crew(crew) for crew in _crews(organisation)],
        works=[_work(work, stated.get(code)) for code, work in works().items()],
        sites=_sites(organisation, user),
    )


def _crews(organisation: Organisation) -> list[Crew]:
    rows = organisation.crews.filter(is_active=True).select_related("depot", "organisation")
    return list(rows.prefetch_related("people"))


def _crew(crew: Crew) -> CrewRow:
    return CrewRow(
        crew,
        crew.hours or hours_text(CREW_HOURS),
        VAN_PLACES if crew.cylinder_places is None else crew.cylinder_places,
        OVERTIME_MINUTES if crew.overtime_minutes is None else crew.overtime_minutes,
    )


def _work(work: Work, row: WorkTime | None) -> WorkRow:
    usual = KINDS.get(work.code, USUAL)
    if row is None:
        return WorkRow(work, usual.minutes, usual.minutes_per_m3, "", usual.impairs, True)
    return WorkRow(work, row.minutes, row.minutes_per_m3, row.skills, row.impairs, False)


def _sites(organisation: Organisation, user: User) -> list[SiteRow]:
    """Where the organisation has open work, of what the person may record at."""
    sites = Site.objects.recordable_by(user).filter(
        systems__tasks__assigned_to=organisation, systems__tasks__status="open"
    )
    found = list(sites.distinct().order_by("name")[:MOST_SITES])
    places = Place.objects.filter(site__in=[site.pk for site in found]).select_related("building")
    by_site: dict[int, list[Place]] = {}
    for place in places:
        by_site.setdefault(place.site_id, []).append(place)
    return [
        SiteRow(
            site,
            next((p for p in by_site.get(site.pk, []) if p.building_id is None), None),
            [p for p in by_site.get(site.pk, []) if p.building_id],
        )
        for site in found
    ]
