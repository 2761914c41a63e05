"""Every kind of record, taken all the way; a new kind is found here without being told.

What lets air in must move the oxygen that the model counts and the score, and what does not must
not: the gas effect and the water of a kind are said apart, and must say the same.
"""

import csv
import io
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from html import escape
from importlib import import_module
from pkgutil import walk_packages

import pytest
from django.urls import reverse
from icalendar import Calendar

from registry import services
from registry.assess import Book, assess_cases, case_of
from registry.assess.books import Pipe
from registry.assess.cases import Case
from registry.atmosphere import LedgerItem, SystemFacts, breach, effects_of
from registry.atmosphere_rows.system_ledger import system_facts
from registry.chain import verify
from registry.kinds import DEFINED_IN, KINDS, Kind
from registry.kinds import events as defined_events
from registry.kinds.meaning import Water
from registry.models import Organisation, OwnerPolicy, Site, System
from registry.services.ledger import links
from registry.words.details import answers
from scheduling.calendars.tokens import issue_token
from tests.factories import NOW, make_pipe_run, make_system
from tests.registry.kinds.every_answer import telling_answers
from tests.restoration import RESTORED

TIMES = 4
AIR = 0.2095
INERT = 0.03
A_THOUSANDTH = 1e-3  # of a point: spans cut elsewhere sum a little differently
BEGAN = NOW - timedelta(days=1500)
RUN = (
    ("inerting.started", {"start_n2_percent": 79.05, "feed_n2_percent": 100.0}),
    ("inerting.accepted", {"fill": 3, "n2_percent": 99.0, "target_n2_percent": 98.0}),
    ("inerting.water_filled", {}),
    ("inerting.returned", RESTORED),
)
BY_THE_BOOK = {"gas_before": "nitrogen"}
DEFINITIONS = [kind for kinds in DEFINED_IN.values() for kind in kinds]


def test_every_kind_that_is_defined_is_in_the_table():
    for module in walk_packages(defined_events.__path__, f"{defined_events.__name__}."):
        place = module.name.removeprefix("registry.kinds.").replace(".", "/")
        names = vars(import_module(module.name)).values()
        written = {item.code for item in names if isinstance(item, Kind)}
        assert written == {kind.code for kind in DEFINED_IN[place]}
    assert len(KINDS) == len(DEFINITIONS), "two kinds have one code"


# Ledger -> atmosphere -> assessment, without a database


@dataclass(frozen=True)
class Way:
    """One way a record can be answered, at one kind of system."""

    kind: Kind
    system_kind: str
    details: dict

    def __str__(self) -> str:
        said = ",".join(f"{name}={value}" for name, value in self.details.items())
        return f"{self.kind.code}@{self.system_kind}[{said}]"


def system_of(kind: str) -> System:
    site = Site(name="Quay", owner=Organisation(name="Owner", kind="owner"))
    return System(site=site, tag="Q-1", kind=kind, installed_on=date(2000, 5, 1))


def facts_of(system: System) -> SystemFacts:
    return system_facts(system, policy=OwnerPolicy(confirming_days=[]), volume_m3=0.9)


def ways(kind: Kind) -> list[Way]:
    suited = [name for name in ("wet", "dry", "deluge", "antifreeze") if kind.suits(name)]
    return [
        Way(kind, name, details)
        for name in suited[:2]
        for details in telling_answers(kind, facts_of(system_of(name)))
    ]


WAYS = [way for kind in DEFINITIONS for way in ways(kind)]


def ledger(way: Way | None) -> list[LedgerItem]:
    """The pipe is inerted; then, several times over, the record happens and the pipe is inerted
    anew 40 days later. So all that can differ in the end is what the record itself brought in."""
    said: list[tuple[datetime, str, dict]] = []
    for turn in range(TIMES + 1):
        at = BEGAN + timedelta(days=200 * turn)
        said += [(at + timedelta(hours=n), *step) for n, step in enumerate(RUN)]
        if way and turn < TIMES:
            said.append((at + timedelta(days=160), way.kind.code, way.details))
    return [
        LedgerItem(number, number, kind, at, details, at)
        for number, (at, kind, details) in enumerate(said, 1)
    ]


def book_of(system_kind: str, way: Way | None) -> Book:
    system, items = system_of(system_kind), ledger(way)
    pipe = Pipe(
        1, None, "cross_main", "black_steel", "4", 114.3, 3.05, 100.0, "grooved_rolled",
        date(2000, 5, 1), "day",
    )  # fmt: skip
    return Book(system, NOW, facts_of(system), items, [pipe], has_vent=False)


@pytest.fixture(scope="module")
def assessed():
    """All ways in one calculation, and each kind of system with nothing, and filled by the book."""
    filled = Way(defined_events.WATER_FILL, "wet", BY_THE_BOOK)
    books = {str(way): book_of(way.system_kind, way) for way in WAYS}
    books |= {kind: book_of(kind, None) for kind in ("wet", "dry", "deluge", "antifreeze")}
    books["filled over nitrogen"] = book_of("wet", filled)
    return dict(zip(books, assess_cases([unwatched(book) for book in books.values()]), strict=True))


def unwatched(book: Book) -> Case:
    """Nobody watched for leaks: all ways are scored under one belief, which no survival moves."""
    case = case_of(book)
    return replace(case, input=replace(case.input, book_began_yr=None))


def brought_in(result, way: Way) -> list[float]:
    """Oxygen in each stretch or fill of gas that the model lays to these records."""
    of_kind = {row.id for row in result.case.book.records if row.kind == way.kind.code}
    gas = result.case.gas
    pairs = zip(gas.spans, gas.causes, strict=True)
    return [span.oxygen for span, cause in pairs if cause in of_kind]


JUDGED = [way for way in WAYS if way.system_kind != "deluge" and not way.kind.gas.moves]


@pytest.mark.parametrize("way", JUDGED, ids=str)
def test_what_lets_air_in_moves_the_oxygen_and_the_score_and_nothing_else_does(assessed, way):
    result = assessed[str(way)]
    air = breach(item_of(way), result.case.book.facts)
    before = assessed[way.system_kind].values["score"]
    score, oxygen = result.values["score"], brought_in(result, way)
    if air.lets_air_in:
        assert oxygen and max(oxygen) > INERT, "air came in, and the model counts none"
        assert score > before
        if air.air in ("some", "all"):
            assert max(oxygen) == pytest.approx(AIR, abs=0.005)
    elif air.air in ("none", "kept"):
        assert max(oxygen, default=0.0) < INERT, "no air came in, and the model counts some"
        if not way.kind.gas.feed and not way.kind.evidence:
            assert score <= most_without_air(assessed, way, before) + A_THOUSANDTH
    if way.system_kind == "wet" and air.lets_air_in:
        assert score > assessed["filled over nitrogen"].values["score"]


def most_without_air(assessed, way: Way, before: float) -> float:
    """Water that flows brings its dissolved oxygen along, which is less than the air of a break;
    what moves neither air nor water moves no score."""
    if way.kind.water_of(item_of(way), facts_of(system_of(way.system_kind))) is Water.FLOWS:
        kind = "wet" if way.system_kind == "antifreeze" else way.system_kind
        return assessed[str(Way(defined_events.HEAD_BREAK, kind, {"count": 1}))].values["score"]
    holds_water = way.system_kind in ("wet", "antifreeze")
    return assessed["filled over nitrogen"].values["score"] if holds_water else before


def item_of(way: Way) -> LedgerItem:
    return LedgerItem(1, 1, way.kind.code, NOW, way.details)


@pytest.mark.parametrize("way", WAYS, ids=str)
def test_what_a_record_did_is_told_in_one_sentence(assessed, way):
    book = assessed[str(way)].case.book
    if not way.kind.bears_on_gas:
        assert way.kind.code not in {item.kind for item in book.items}
        return
    effects = effects_of(book.facts, book.items)
    told = [effects[row.id] for row in book.items if row.kind == way.kind.code]
    assert told
    assert all(effect.text.endswith((".", "%.")) for effect in told)


# Through the services to strip, page, CSV and feed


@pytest.fixture
def watched(world, owner):
    """A system of each kind that a record may be of; made for the kind at hand."""

    def make(kind: Kind) -> System:
        named = next(name for name in ("wet", "dry", "deluge", "antifreeze") if kind.suits(name))
        system = make_system(world.site, owner, tag="NQ-7", kind=named, now=BEGAN)
        make_pipe_run(system, owner, now=BEGAN)
        return system

    return make


def written(kind: Kind, system: System, owner):
    """The record that means most: of those that let air in, if there are any."""
    facts = facts_of(system)
    sets = telling_answers(kind, facts)
    items = [LedgerItem(1, 1, kind.code, NOW, details) for details in sets]
    worst = max(items, key=lambda item: breach(item, facts).lets_air_in)
    at = NOW - timedelta(days=10)
    return services.record(
        system=system, kind=kind.code, occurred_at=at, details=worst.details, recorded_by=owner,
        now=NOW,
    )  # fmt: skip


@pytest.mark.parametrize("kind", DEFINITIONS, ids=lambda kind: kind.code)
def test_every_kind_goes_from_the_ledger_to_strip_page_csv_and_feed(client, watched, owner, kind):
    system = watched(kind)
    record = written(kind, system, owner)
    assert verify(links(system)) == []
    assert system.assessments.latest().get().score is not None
    client.force_login(owner)
    label = escape(str(kind.label))

    page = client.get(system.get_absolute_url())
    assert label in page.content.decode()
    shown = client.get(record.get_absolute_url()).content.decode()
    assert label in shown
    for answer in answers(kind, record.details, owner.display_units):
        assert escape(answer.label) in shown and escape(answer.text) in shown
    strip_key = f"<b>{kind.mark.letter or '○'}</b> {label}" if kind.mark else ""
    assert strip_key in page.content.decode()
    assert (f"</b> {label}</li>" in page.content.decode()) == bool(kind.mark)

    response = client.get(reverse("reports:ledger-csv", args=[system.pk]))
    text = b"".join(response.streaming_content).decode("utf-8-sig")
    assert str(kind.label) in [row["record"] for row in csv.DictReader(io.StringIO(text))]

    _token, secret = issue_token(user=owner, label="Mine", scope="person", now=NOW)
    feed = client.get(reverse("scheduling:feed", args=[secret]))
    entries = Calendar.from_ical(feed.content).walk("VEVENT")
    assert len(entries) >= system.tasks.open().count()


@pytest.mark.parametrize("kind", DEFINITIONS, ids=lambda kind: kind.code)
def test_what_is_entered_by_hand_is_offered_and_has_a_form(client, watched, owner, kind):
    system = watched(kind)
    client.force_login(owner)
    address = reverse("registry:record-new", args=[system.pk, kind.code])
    offered = client.get(reverse("registry:record-choose", args=[system.pk])).content.decode()
    assert (address in offered) == kind.is_entered_by_hand
    form = client.get(address)
    assert form.status_code == (200 if kind.is_entered_by_hand else 404)
    if kind.is_entered_by_hand:
        assert all(f'name="{field.name}' in form.content.decode() for field in kind.fields)
