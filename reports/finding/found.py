"""What a search finds, of what the person may see: systems, sites, people, orders, remarks."""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import reduce
from operator import and_

from django.db.models import Exists, F, OuterRef, Q
from django.utils.text import Truncator
from django.utils.translation import gettext

from registry.models import Building, Membership, Organisation, Record, Site, System, User
from reports.finding import index
from scheduling.models import Task

MOST_SYSTEMS, MOST_OTHERS = 8, 5
SHOWN = 90


@dataclass(frozen=True)
class Hit:
    address: str
    words: str
    beside: str


@dataclass(frozen=True)
class Group:
    name: str
    hits: list[Hit]


def found(user: User, text: str) -> list[Group]:
    """By kind, systems first; groups without a hit are left out."""
    words = index.words_of(text)
    if not words:
        return []
    groups = [
        Group(gettext("Systems"), list(_systems(user, words))),
        Group(gettext("Sites"), list(_sites(user, words))),
        Group(gettext("People"), list(_people(user, words))),
        Group(gettext("Orders"), list(_orders(user, words))),
        Group(gettext("Remarks"), list(_remarks(user, words))),
    ]
    return [group for group in groups if group.hits]


def _systems(user: User, words: list[str]) -> Iterable[Hit]:
    """Each word in the tag, the site or the building: “quay cold” finds a cold hall at a quay."""
    each = [_in_system(word) for word in words]
    systems = System.objects.visible_to(user).filter(reduce(and_, each))
    by_score = F("assessments__score").desc(nulls_last=True)
    latest = Q(assessments__is_latest=True) | Q(assessments__isnull=True)
    rows = systems.filter(latest).select_related("site", "building").order_by(by_score, "pk")
    for one in rows[:MOST_SYSTEMS]:
        building = f" {one.building}" if one.building else ""
        yield Hit(one.get_absolute_url(), f"{one.tag}{building}", one.site.name)


def _in_system(word: str) -> Q:
    sites = Site.objects.filter(pk__in=index.keys(index.SITES, [word]))
    buildings = Building.objects.filter(pk__in=index.keys(index.BUILDINGS, [word]))
    return (
        Q(pk__in=index.keys(index.SYSTEMS, [word]))
        | Q(site__in=sites.values("pk"))
        | Q(building__in=buildings.values("pk"))
    )


def _sites(user: User, words: list[str]) -> Iterable[Hit]:
    sites = index.having(Site.objects.visible_to(user), index.SITES, words)
    for site in sites.select_related("owner").order_by("name", "pk")[:MOST_OTHERS]:
        yield Hit(site.get_absolute_url(), site.name, site.owner.name)


def _people(user: User, words: list[str]) -> Iterable[Hit]:
    """Colleagues, and those who wrote what the person may read; the ledger by them."""
    written = Record.objects.visible_to(user).filter(recorded_by=OuterRef("pk"))
    mine = Membership.objects.filter(
        user=OuterRef("pk"), organisation__in=user.organisations.values("pk")
    )
    people = index.having(User.objects.all(), index.PEOPLE, words)
    known = people.filter(Q(Exists(mine)) | Q(Exists(written)))
    for person in known.order_by("name", "pk")[:MOST_OTHERS]:
        houses = Organisation.objects.filter(memberships__user=person)
        names = ", ".join(houses.values_list("name", flat=True))
        yield Hit(f"/ledger/?person={person.pk}", person.name, names)


def _orders(user: User, words: list[str]) -> Iterable[Hit]:
    tasks = index.having(Task.objects.visible_to(user), index.ORDERS, words)
    rows = tasks.select_related("system__site").order_by("-status", "due_at", "pk")
    for task in rows[:MOST_OTHERS]:
        beside = f"{task.system.site.name}, {task.get_status_display().lower()}"
        yield Hit(task.get_absolute_url(), f"{task.title}, {task.system.tag}", beside)


def _remarks(user: User, words: list[str]) -> Iterable[Hit]:
    records = index.having(Record.objects.visible_to(user), index.REMARKS, words)
    for one in records.select_related("system__site").order_by("-pk")[:MOST_OTHERS]:
        said = Truncator(one.note).chars(SHOWN)
        where = f"{one.system.tag}, {one.system.site.name}: {one.definition.label.lower()}"
        yield Hit(one.get_absolute_url(), said, where)
