"""What decides which rows hold at a system: editions adopted, winters, answers given or known."""

from collections.abc import Callable, Iterable, Iterator, Mapping

from registry.models import Fitting, Organisation, PipeRun, Site, System
from scheduling import library
from scheduling.models import OwnItem, SiteWinter
from scheduling.models.library import OVER_FROM, READY_BY, month_day

ASSUMED_WINTER = library.Winter(month_day(READY_BY), month_day(OVER_FROM))


def library_of(owner: Organisation) -> tuple[library.LibraryItem, ...]:
    """The rows an owner uses, in the order of the seed, its further ones last."""
    own = {item.row: item for item in owner.own_items.all()}
    rows = [own.pop(row.row, row) for row in library.items()]
    return tuple(_in_use([*rows, *own.values()]))


def _in_use(rows: Iterable[library.LibraryItem | OwnItem]) -> Iterator[library.LibraryItem]:
    for row in rows:
        if isinstance(row, library.LibraryItem):
            yield row
        elif row.is_used:
            yield row.item()


def adopted(site: Site) -> list[library.Edition]:
    known = library.editions()
    in_force = site.adopted_editions.in_force()
    return [known[row.edition] for row in in_force if row.edition in known]


def winter_of(site: Site) -> library.Winter | None:
    """The site's own, or until somebody says so the default: frost from November to April."""
    own = SiteWinter.objects.filter(site=site).first()
    return own.season if own else ASSUMED_WINTER


def conditions_of(system: System) -> dict[str, bool]:
    """What is known of a system: what the register shows, and before it what somebody answered."""
    given = {row.condition: row.answer for row in system.answers.all()}
    return {**shown_by_register(system), **given}


def shown_by_register(system: System) -> dict[str, bool]:
    """Facts the register proves. That no backflow preventer is entered proves nothing."""
    fitted = set(system.fittings.filter(removed_on=None).values_list("kind", flat=True))
    known = {name: True for name, shows in _SHOWN_BY_FITTINGS.items() if shows(fitted)}
    if system.gas_supply == System.GasSupply.GENERATOR:
        known["generator_fitted"] = True
    materials = set(system.pipe_runs.current().values_list("material", flat=True))
    if materials:
        known["pipe_all_plastic"] = materials == {PipeRun.Material.CPVC}
    return known


_SHOWN_BY_FITTINGS: Mapping[str, Callable[[set[str]], bool]] = {
    "backflow_fitted": lambda fitted: Fitting.Kind.BACKFLOW_PREVENTER in fitted,
    "generator_fitted": lambda fitted: Fitting.Kind.GENERATOR in fitted,
    "analyser_kept": lambda fitted: Fitting.Kind.ANALYSER in fitted,
    "low_points": lambda fitted: bool(
        {Fitting.Kind.LOW_POINT_DRAIN, Fitting.Kind.AUXILIARY_DRAIN} & fitted
    ),
}
