"""What the sign of one system rests on, read from the register; nothing is put in its place."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from hashlib import sha256

from django.utils.translation import gettext

from registry.chain import canonical_json
from registry.models import AtmosphereSpan, Fitting, PipeRun, SignSettings, System
from registry.runs.planning import COVER_MARGIN_PA, LEAST_PUSH_PA

Kind = Fitting.Kind


@dataclass(frozen=True)
class SignFacts:
    """Pressures are gauge, in Pa; fittings by their own tags, in the order they are worked."""

    tag: str
    place: str
    is_gas_filled: bool
    rated_gauge_pa: float
    service_gauge_pa: float | None
    ports: tuple[str, ...]
    control_valves: tuple[str, ...]
    main_drains: tuple[str, ...]
    further_drains: tuple[str, ...]
    owner: str
    owner_telephone: str
    contractor: str
    contractor_telephone: str
    languages: tuple[str, ...]

    @property
    def set_point_gauge_pa(self) -> float | None:
        """About 10 psi above the system (common practice, no source), and never above the rated
        pressure; None where the register holds no pressure, or there is no room between the two."""
        if self.service_gauge_pa is None:
            return None
        set_point = min(self.service_gauge_pa + COVER_MARGIN_PA, self.rated_gauge_pa)
        return set_point if set_point - self.service_gauge_pa >= LEAST_PUSH_PA else None

    @property
    def has_no_room(self) -> bool:
        return self.service_gauge_pa is not None and self.set_point_gauge_pa is None

    @property
    def digest(self) -> str:
        return sha256(canonical_json(asdict(self)).encode()).hexdigest()

    @property
    def missing(self) -> list[str]:
        """What the register does not hold, so that the sign asks or leaves a line for it."""
        asked = (
            (self.service_gauge_pa is not None, gettext("usual pressure in service")),
            (self.ports, gettext("injection port")),
            (self.control_valves, gettext("control valve")),
            (self.main_drains, gettext("main drain")),
            (self.contractor, gettext("contractor of the site")),
            (self.contractor_telephone or not self.contractor, gettext("contractor's telephone")),
            (self.owner_telephone, gettext("owner's telephone")),
        )
        return [words for is_there, words in asked if not is_there]


def sign_facts(system: System, now: datetime) -> SignFacts:
    site = system.site
    settings = SignSettings.of(site)
    contractor = site.contractor_on(now.astimezone(site.zone).date())
    is_theirs = contractor is not None and contractor.pk == settings.contractor_id
    fittings = [one for one in system.fittings.all() if one.removed_on is None]
    return SignFacts(
        tag=system.tag,
        place=system.place,
        is_gas_filled=system.is_gas_filled,
        rated_gauge_pa=system.rated_pressure_gauge_pa,
        service_gauge_pa=system.service_pressure_gauge_pa,
        ports=_named(fittings, Kind.INJECTION_PORT),
        control_valves=_named(fittings, Kind.CONTROL_VALVE),
        main_drains=_named(fittings, Kind.MAIN_DRAIN),
        further_drains=_named(fittings, Kind.AUXILIARY_DRAIN, Kind.LOW_POINT_DRAIN),
        owner=str(site.owner),
        owner_telephone=settings.owner_telephone,
        contractor=str(contractor) if contractor else "",
        contractor_telephone=settings.contractor_telephone if is_theirs else "",
        languages=tuple(settings.languages.split()),
    )


def _named(fittings: Sequence[Fitting], *kinds: str) -> tuple[str, ...]:
    """Those without a tag are told by where they are, or not at all: a kind alone names none."""
    found = [one for one in fittings if one.kind in kinds and (one.label or one.location)]
    found.sort(key=lambda one: (kinds.index(one.kind), one.order or 100, one.label, one.pk))
    return tuple(
        f"{one.label} ({one.location})" if one.label and one.location else one.label or one.location
        for one in found
    )


def no_gas(system: System) -> str:
    """Why no compressed gas belongs into this pipe, whatever its sign says; mostly empty."""
    if system.kind == System.Kind.DELUGE:
        return gettext("The pipe of a deluge system stands open: it cannot hold nitrogen.")
    if system.pipe_runs.current().filter(material=PipeRun.Material.CPVC).exists():
        return gettext("There is CPVC among the pipe: no compressed gas is put into it.")
    return ""


def refusal(system: System, now: datetime) -> str:
    """Why there is no sign for this system; empty where there is one."""
    if why := no_gas(system):
        return why
    inert = system.spans.filter(state=AtmosphereSpan.State.INERT, starts_at__lte=now)
    if not inert.exists():
        return gettext(
            "No accepted inerting run is on record: a sign that says “nitrogen” would say what "
            "nobody has seen."
        )
    return ""
