"""What the register holds already, looked up a chunk of rows at a time."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime

from django.utils.translation import gettext

from registry.imports.parsed import GivenRun, ParsedRow
from registry.imports.problems import Problem
from registry.imports.reading import SheetRow
from registry.imports.survey import Survey
from registry.models import Organisation, PipeRun, Site, System
from registry.services.ledger import RecordError
from registry.services.register.systems import check_materials

Key = tuple[str, str]
UNKNOWN = System.Hazard.UNKNOWN


@dataclass
class KnownSystem:
    system: System
    runs: set[GivenRun] = field(default_factory=set)
    looks: set[tuple[str, ...]] = field(default_factory=set)  # of runs older than this import


class KnownRegister:
    """Systems and runs of one owner; runs that this import entered (at `now`) resemble nothing."""

    def __init__(self, owner: Organisation | None, now: datetime):
        self.owner, self.now = owner, now
        sites = Site.objects.filter(owner=owner).values_list("name", flat=True)
        self.sites = {name.casefold() for name in sites}
        self.pk_by_key: dict[Key, int] = {}
        systems = System.objects.filter(site__owner=owner).order_by()
        for site, tag, pk in systems.values_list("site__name", "tag", "pk").iterator():
            self.pk_by_key[site.casefold(), tag.casefold()] = pk

    def look_up(self, keys: Iterable[Key], *, is_locking: bool) -> dict[Key, KnownSystem]:
        """With `is_locking` the systems are held until the transaction ends: their sequence
        numbers and their runs cannot change between looking and writing."""
        pks = {self.pk_by_key[key]: key for key in keys if key in self.pk_by_key}
        systems = System.objects.filter(pk__in=pks).select_related("site__owner").order_by("pk")
        if is_locking:
            systems = systems.select_for_update(of=("self",))
        found = {system.pk: KnownSystem(system) for system in systems}
        for pipe in PipeRun.objects.current().filter(system__in=pks).select_related("record"):
            known = found[pipe.system_id]
            run = _run_of(pipe)
            known.runs.add(run)
            if pipe.record is None or pipe.record.recorded_at < self.now:
                known.looks.add(run.look)
        return {pks[pk]: known for pk, known in found.items()}


def _run_of(pipe: PipeRun) -> GivenRun:
    """Rounded as the import rounds: what a form stored to more digits is the same pipe."""
    values = {name: getattr(pipe, name) for name in GivenRun.__dataclass_fields__}
    for name in ("length_m", "wall_mm", "outside_diameter_mm"):
        values[name] = round(values[name], 4)
    return GivenRun(**values)


def disagreements(
    parsed: ParsedRow, row: SheetRow, known: KnownSystem, survey: Survey
) -> list[Problem]:
    """Facts on which the register and the file differ; the file never overwrites the register."""
    system, mapping, found = known.system, survey.mapping, []
    facts = survey.plans[parsed.key].facts
    if facts["kind"] != system.kind:
        found.append(("kind", system.get_kind_display()))
    if UNKNOWN not in (facts["hazard"], system.hazard) and facts["hazard"] != system.hazard:
        found.append(("hazard", system.get_hazard_display()))
    right = gettext("Write that here, or correct the system in the register.")
    problems = [
        mapping.problem(
            row.cells,
            name,
            (gettext("the register has %(tag)s as %(held)s") % {"tag": system.tag, "held": held}),
            right,
        )
        for name, held in found
    ]
    try:
        check_materials(system, [PipeRun(material=parsed.run.material)])
    except RecordError as error:
        wrong, _, right = error.problems["material"].partition(". ")
        problems.append(mapping.problem(row.cells, "material", wrong, right))
    return problems


def resembles(row: ParsedRow, known: KnownSystem) -> Problem:
    role = PipeRun.Role(row.run.role).label.lower()
    return Problem(
        gettext("Row"),
        "",
        (
            gettext(
                "the register has a %(role)s of size %(nominal_size)s in %(tag)s "
                "already, with another length, wall or date"
            )
            % {"role": role, "nominal_size": row.run.nominal_size, "tag": known.system.tag}
        ),
        gettext(
            "If it is the same pipe, correct it in the register; if it is further "
            "pipe, import again and say so."
        ),
        "similar",
    )
