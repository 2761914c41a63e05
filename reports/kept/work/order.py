"""The order sheet: what is to be done, how to get in, which valves in which order, what to take."""

from collections.abc import Iterator
from datetime import datetime

from django.utils.translation import get_language, gettext, ngettext

from registry.models import Fitting, User
from registry.quantities import format_quantity
from registry.riser_sign.facts import sign_facts
from registry.riser_sign.words import sign_words
from registry.words.told.retelling import retold
from reports.kept.checking import of_record, verdict_of
from reports.kept.layout import Block, Facts, Lines, Paper, Points, Section, Table, Words
from reports.kept.words import address_words, moment_words, system_words
from reports.kept.work.valve_drawing import valve_blocks
from reports.printing import paper_size, printed_cautions
from scheduling.models import Place, Task
from scheduling.orders.board import Job
from scheduling.orders.loading import JobLoad, load_for
from scheduling.planning.facts import policy_of
from scheduling.planning.gas import used_factors

SHOWN_CAUTIONS = ("draining", "nitrogen", "oxygen")


def order_paper(task: Task, *, reader: User, now: datetime) -> Paper:
    system, units = task.system, reader.display_units
    job = Job.of(task, units=units, now=now)
    verdict = verdict_of([system.pk], now=now)
    load = load_for(
        task, job.fittings, now, units=units, cylinder=policy_of(task.assigned_to).cylinder,
        factor=used_factors([system.pk]).get(system.pk, 1.0),
    )  # fmt: skip
    sections = [
        Section(gettext("How to get in"), [Facts(list(_way_in(task, job, now)))]),
        Section(gettext("The system"), [Facts(list(_system(task, job, units)))]),
        Section(gettext("Valves and drains, in order"), list(_valves(task, now))),
        Section(gettext("Where to connect"), [_fittings(job)]),
        Section(gettext("To load"), list(load_blocks(load, units))),
        Section(gettext("Last readings"), [_readings(job)]),
        Section(
            gettext("Cautions"),
            [Points([f"{title}. {what}" for title, what in printed_cautions(*SHOWN_CAUTIONS)])],
        ),
        Section(
            gettext("Done"),
            [Lines((gettext("Technician: name, signature, date"), gettext("Left open, and why")))],
        ),
    ]
    if cause := task.cause or system.records.order_by("sequence").last():
        sections.append(of_record(verdict, cause, now=now))
    return Paper(
        title=gettext("Order sheet"),
        about=f"{retold(task.title)}: {system.tag}",
        place=f"{system.place}, {system.site.owner}. {address_words(system.site)}",
        size=paper_size(units),
        day=now.astimezone(task.zone).date(),
        said=list(_said(task, job)),
        mark=verdict.mark,
        found=verdict.found,
        sections=sections,
        name=f"order-{task.pk}",
    )


def _said(task: Task, job: Job) -> Iterator[str]:
    yield task.why
    yield gettext("{due}. In time until {until}.").format(
        due=job.due.text, until=moment_words(task.due_at, task.zone)
    )
    if task.is_booked:
        yield gettext("Booked from {begin} to {end}.").format(
            begin=moment_words(task.starts_at, task.zone), end=moment_words(task.ends_at, task.zone)
        )
    else:
        yield gettext("No time is booked.")
    if job.out_since:
        yield gettext("Out of service since {since}: keep the fire watch.").format(
            since=moment_words(job.out_since, task.zone)
        )


def _way_in(task: Task, job: Job, now: datetime) -> Iterator[tuple[str, str]]:
    system = task.system
    yield gettext("Where"), system.place
    yield gettext("Address"), address_words(system.site)
    note = system.building.access_note if system.building else ""
    yield gettext("Access"), note or gettext("no note")
    yield gettext("Hours"), _hours(task) or gettext("not entered")
    if job.place:
        place = job.place
        yield gettext("Degrees"), f"{place.latitude:.5f}, {place.longitude:.5f}"
    facts = sign_facts(system, now)
    yield gettext("Owner"), _called(facts.owner, facts.owner_telephone)
    yield gettext("Contractor of the site"), _called(facts.contractor, facts.contractor_telephone)
    yield gettext("For"), f"{task.assigned_to}, {task.crew}" if task.crew else str(task.assigned_to)


def _called(name: str, telephone: str) -> str:
    if not name:
        return gettext("none in the register")
    return f"{name}, {telephone or gettext('no telephone number in the register')}"


def _hours(task: Task) -> str:
    """Of the building where it has its own, else of the site."""
    site, building = task.system.site_id, task.system.building_id
    rows = {row.building_id: row.hours for row in Place.objects.filter(site=site)}
    return rows.get(building) or rows.get(None) or ""


def _system(task: Task, job: Job, units: str) -> Iterator[tuple[str, str]]:
    system = task.system
    yield gettext("System"), system_words(system)
    if system.is_incomplete:
        yield gettext("Register"), system.incomplete_words
    yield gettext("Kind of pipe"), ", ".join(job.materials) or gettext("no pipe in the register")
    if job.volume.is_known:
        volume = format_quantity(job.volume.m3, "volume", units)
        yield gettext("Volume"), f"{volume} ({job.volume.basis})"
    else:
        yield gettext("Volume"), gettext("not known")
    rated = format_quantity(system.rated_pressure_gauge_pa, "pressure", units)
    yield gettext("Rated pressure"), rated
    service = system.service_pressure_gauge_pa
    yield (
        gettext("Pressure in service"),
        format_quantity(service, "pressure", units) if service else gettext("not recorded"),
    )
    if present := job.stretch[-1] if job.stretch else None:
        yield gettext("Atmosphere"), f"{present.get_state_display()}. {present.reason}"
    else:
        yield gettext("Atmosphere"), gettext("not derived")
    told = job.protection
    yield (
        gettext("Protection"),
        told.in_words if told else gettext("Not known"),
    )
    if task.work.is_inerting_run:
        pressure = format_quantity(job.fill_pressure_gauge_pa, "pressure", units)
        yield gettext("Fill to"), f"{pressure} ({job.fill_pressure_basis})"
        yield gettext("Accept at"), format_quantity(job.target_n2_percent, "percent")


def _valves(task: Task, now: datetime) -> Iterator[Block]:
    """Drawn, and as the sign at the riser says it; what the register does not hold is asked for."""
    yield from valve_blocks(list(task.system.fittings.all()))
    facts = sign_facts(task.system, now)
    words = sign_words(facts, (get_language() or "en").split("-")[0])
    yield Points(words.steps, is_ordered=True)
    if facts.missing:
        told = gettext("The register does not hold: {missing}.")
        yield Words(told.format(missing=", ".join(facts.missing)))


def _fittings(job: Job) -> Table:
    return Table(
        (gettext("Fitting"), gettext("Tag"), gettext("Where")),
        [_fitting(one) for one in job.fittings],
        gettext("No vents, ports or drains are in the register."),
        wide=2,
    )


def _fitting(one: Fitting) -> tuple[str, ...]:
    return (
        str(one.get_kind_display()),
        one.label or gettext("no tag"),
        one.location or gettext("not recorded"),
    )


def load_blocks(load: JobLoad, units: str) -> Iterator[Block]:
    lines = []
    if load.cylinders:
        words = ngettext(
            "{count} nitrogen cylinder, {size}, for {gas}",
            "{count} nitrogen cylinders, {size}, for {gas}",
            load.cylinders,
        )
        gas = format_quantity(load.nitrogen_m3 or 0.0, "volume", units)
        lines.append(words.format(count=load.cylinders, size=load.cylinder, gas=gas))
    if load.why:
        lines.append(load.why)
    lines += load.things
    yield Points(lines or [gettext("Nothing beyond the usual tools.")])


def _readings(job: Job) -> Table:
    return Table(
        (gettext("When"), gettext("Reading"), gettext("Record")),
        [
            (
                moment_words(one.record.occurred_at, one.record.system.site.zone),
                one.said,
                str(one.record.sequence),
            )
            for one in job.readings
        ],
        gettext("No reading of the gas is on record."),
        wide=1, numbers=(2,),
    )  # fmt: skip
