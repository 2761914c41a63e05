"""The inspection report of a visit: what was asked, by edition and clause; what was found, in the
three classes of NFPA 25; what was left open. A visit is a day at a site, by the clock there."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from functools import cached_property

from django.db.models import Q
from django.utils.translation import gettext, ngettext

from registry.kinds.inspections import INSPECTION_COMPLETED
from registry.models import Attachment, Record, Site, User
from registry.translation import _
from registry.words.details import answers
from registry.words.told.retelling import retold
from reports.kept.checking import of_record, verdict_of
from reports.kept.layout import Block, Facts, Lines, Paper, Points, Section, Table, Words
from reports.kept.photos import photos_of
from reports.kept.words import address_words, clock_words, day_words, short_day, system_words
from reports.printing import paper_size
from scheduling import library
from scheduling.models import Occurrence
from scheduling.recurrence import local_day
from scheduling.recurring.at_system import adopted

CLASSES = (
    ("impairments", _("Impairments"), _("The system, or a part of it, would not work.")),
    (
        "critical", _("Critical deficiencies"),
        _("Left alone, it can keep the system from working as it should."),
    ),
    (
        "noncritical", _("Noncritical deficiencies"),
        _("It does not keep the system from working, and the standard asks for it to be mended."),
    ),
)  # fmt: skip
TOLD_APART = frozenset(
    (
        "item", "title", "due_on", "asked_by", "timing", "days", "found", "files",
        *(name for name, *_words in CLASSES),
    )
)  # fmt: skip
MOST_OPEN = 60


@dataclass(frozen=True)
class Clause:
    """On whose word something was asked."""

    edition: str
    clause: str

    @classmethod
    def of(cls, asked_by: str) -> "Clause":
        said = asked_by.removesuffix(f". {library.CHECK_EDITION}")
        for edition in library.editions().values():
            if said == edition.title or said.startswith(f"{edition.title}, "):
                return cls(edition.title, said.removeprefix(edition.title).removeprefix(", "))
        return cls(said or gettext("Nobody’s word is on record"), "")


@dataclass(frozen=True)
class Visit:
    site: Site
    on: date
    reader: User
    now: datetime

    @cached_property
    def records(self) -> list[Record]:
        """What was done there that day and still counts, by when it was done."""
        begin = datetime.combine(self.on, time.min, self.site.zone)
        rows = Record.objects.visible_to(self.reader).current().filter(
            system__site=self.site, kind=INSPECTION_COMPLETED.code,
            occurred_at__gte=begin, occurred_at__lt=self.ended_at,
        )  # fmt: skip
        rows = rows.select_related("system__site__owner", "system__building", "recorded_by")
        return list(rows.prefetch_related("attachments").order_by("occurred_at", "pk"))

    @property
    def ended_at(self) -> datetime:
        return datetime.combine(self.on + timedelta(days=1), time.min, self.site.zone)

    @cached_property
    def systems(self) -> list[int]:
        return list(dict.fromkeys(record.system_id for record in self.records))

    @cached_property
    def left_open(self) -> list[Occurrence]:
        """What could have been done that day at the systems visited, and was not by its end."""
        ended = self.ended_at
        rows = Occurrence.objects.filter(
            Q(settled_at__isnull=True) | Q(settled_at__gt=ended),
            system__in=self.systems, opens_at__lt=ended,
        ).exclude(status=Occurrence.Status.WITHDRAWN)  # fmt: skip
        rows = rows.exclude(record__in=[record.pk for record in self.records])
        return list(rows.select_related("item", "system__site").order_by("late_at", "pk"))

    def found(self, name: str) -> list[tuple[Record, str]]:
        """What was found of one class, with the record that says so."""
        return [(record, text) for record in self.records if (text := record.details.get(name, ""))]


def visit_paper(visit: Visit, *, with_files: bool = True) -> Paper:
    site, records = visit.site, visit.records
    verdict = verdict_of(visit.systems, now=visit.now)
    photos = _photos(records)
    block, files = photos_of(photos, with_files=with_files)
    last = max(records, key=lambda record: (record.recorded_at, record.pk))
    sections = [
        *(_class_section(visit, *one) for one in CLASSES),
        _left_open(visit),
        *_asked_and_done(visit),
        *([Section(gettext("Photos"), [block])] if photos else []),
        _who(visit),
        of_record(verdict, last, now=visit.now),
    ]
    return Paper(
        title=gettext("Inspection report"),
        about=f"{site}, {day_words(visit.on)}",
        place=f"{site.owner}. {address_words(site)}",
        size=paper_size(visit.reader.display_units),
        day=visit.on,
        big=str(sum(len(visit.found(name)) for name, *_words in CLASSES)),
        said=list(_said(visit)),
        mark=verdict.mark,
        found=verdict.found,
        sections=sections,
        files=files,
        name="inspection",
    )


def _said(visit: Visit) -> Iterator[str]:
    counts = [(str(words).lower(), len(visit.found(name))) for name, words, _help in CLASSES]
    yield gettext("findings: {tally}").format(
        tally=", ".join(f"{words} {count}" for words, count in counts)
    )
    done, systems = len(visit.records), len(visit.systems)
    yield ngettext("{count} item done", "{count} items done", done).format(count=done)
    yield ngettext("{count} system seen", "{count} systems seen", systems).format(count=systems)
    left = len(visit.left_open)
    yield ngettext("{count} item left open", "{count} items left open", left).format(count=left)
    editions = "; ".join(one.title for one in adopted(visit.site))
    yield (
        gettext("Editions adopted at this site today: {editions}.").format(editions=editions)
        if editions
        else gettext("This site has adopted no edition.")
    )


def _class_section(visit: Visit, name: str, title: str, means: str) -> Section:
    found = visit.found(name)
    table = Table(
        (gettext("Found"), gettext("System"), gettext("While doing"), gettext("Record")),
        [
            (text, _system(record), retold(record.details["title"]), str(record.sequence))
            for record, text in found
        ],
        gettext("None was described."),
        also=2, numbers=(3,), note=str(means) if found else "",
    )  # fmt: skip
    return Section(str(title), [table])


def _left_open(visit: Visit) -> Section:
    rows = visit.left_open
    more = len(rows) - MOST_OPEN
    note = gettext("{more} more are not listed here.").format(more=more) if more > 0 else ""
    table = Table(
        (gettext("Work"), gettext("System"), gettext("In time until"), gettext("Asked by")),
        [
            (
                retold(row.item.title), row.system.tag, _until(row, visit),
                retold(row.item.asked_by),
            )
            for row in rows[:MOST_OPEN]
        ],
        gettext("Nothing that could be done there that day was left open at the systems visited."),
        also=3, note=note,
    )  # fmt: skip
    return Section(gettext("Left open"), [table])


def _until(row: Occurrence, visit: Visit) -> str:
    days = (visit.on - row.closes_on).days
    if days <= 0:
        return short_day(row.closes_on)
    return ngettext(
        "{day}, {days} day late then", "{day}, {days} days late then", days
    ).format(day=short_day(row.closes_on), days=days)  # fmt: skip


def _asked_and_done(visit: Visit) -> Iterator[Section]:
    """By edition, and within it by clause."""
    by_edition: dict[str, list[tuple[str, Record]]] = {}
    for record in visit.records:
        clause = Clause.of(record.details.get("asked_by", ""))
        by_edition.setdefault(clause.edition, []).append((clause.clause, record))
    for edition, rows in sorted(by_edition.items()):
        blocks: list[Block] = [
            Table(
                (
                    gettext("Clause"), gettext("Asked, and done"), gettext("System"),
                    gettext("Result"), gettext("Read"),
                ),
                [
                    _done(clause, record, visit)
                    for clause, record in sorted(rows, key=lambda row: (row[0], row[1].pk))
                ],
                "", wide=1, also=4,
            )
        ]  # fmt: skip
        title = gettext("Asked and done: {edition}").format(edition=retold(edition))
        if edition != library.GOOD_PRACTICE:
            blocks.append(Words(retold(library.CHECK_EDITION), is_quiet=True))
        yield Section(title, blocks)


def _done(clause: str, record: Record, visit: Visit) -> tuple[str, ...]:
    found = record.definition.field("found")
    words = dict(found.choices).get(record.details.get("found", ""), "") if found else ""
    units = visit.reader.display_units
    told = [
        f"{answer.label}: {answer.text}"
        for answer in answers(
            record.definition,
            {key: said for key, said in record.details.items() if key not in TOLD_APART},
            units,
        )
        if answer.text
    ]
    title = f"{retold(record.details['title'])}, {_timing(record)}"
    return (
        clause or gettext("not named"),
        title,
        record.system.tag,
        str(words) or gettext("not said"),
        "; ".join(told) or gettext("no reading asked for or given"),
    )


def _timing(record: Record) -> str:
    days = record.details.get("days", 0)
    if record.details.get("timing") == "late":
        return ngettext("{days} day late", "{days} days late", days).format(days=days)
    return gettext("early") if record.details.get("timing") == "early" else gettext("on time")


def _photos(records: Sequence[Record]) -> list[tuple[Attachment, str]]:
    return [
        (file, f"{retold(record.details['title'])}, {record.system.tag}")
        for record in records
        for file in record.attachments.all()
    ]


def _who(visit: Visit) -> Section:
    people = dict.fromkeys(str(record.recorded_by) for record in visit.records)
    zone = visit.site.zone
    first, last = visit.records[0], visit.records[-1]
    contractor = visit.site.contractor_on(visit.on)
    late = [
        record for record in visit.records if local_day(record.recorded_at, zone) > visit.on
    ]  # fmt: skip
    facts = [
        (gettext("Recorded by"), ", ".join(people)),
        (
            gettext("Contractor of the site"),
            str(contractor) if contractor else gettext("none in the register"),
        ),
        (gettext("First item"), clock_words(first.occurred_at, zone)),
        (gettext("Last item"), clock_words(last.occurred_at, zone)),
        (gettext("Systems seen"), "; ".join(_systems_seen(visit.records))),
    ]
    blocks: list[Block] = [Facts(facts)]
    notes = [record.note for record in visit.records if record.note]
    if notes:
        blocks.append(Points(notes))
    if late:
        words = ngettext(
            "{count} item was written down on a later day.",
            "{count} items were written down on a later day.",
            len(late),
        )
        blocks.append(Words(words.format(count=len(late))))
    blocks.append(
        Lines(
            (
                gettext("For the contractor: name, signature, date"),
                gettext("For the owner: name, signature, date"),
            )
        )
    )
    return Section(gettext("Who, and when"), blocks)


def _systems_seen(records: Iterable[Record]) -> Iterator[str]:
    yield from dict.fromkeys(system_words(record.system) for record in records)


def _system(record: Record) -> str:
    building = record.system.building
    return f"{record.system.tag}, {building}" if building else record.system.tag
