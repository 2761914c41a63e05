"""Reading a system's spans: which one holds, since when its state holds, and the oxygen by now."""

from collections.abc import Sequence
from datetime import datetime

from registry.atmosphere import Feed, Oxygen, SystemFacts
from registry.atmosphere.drift import drifted
from registry.models import AtmosphereSpan, System

DAY_S = 86400.0


def span_at(spans: Sequence[AtmosphereSpan], when: datetime) -> AtmosphereSpan | None:
    """The span that holds at an instant; None before the first. Spans come oldest first."""
    return next((span for span in reversed(spans) if span.starts_at <= when), None)


def state_since(spans: Sequence[AtmosphereSpan], when: datetime) -> datetime | None:
    """Since when the state holds: a new reason or reading begins a span, but not a state."""
    begun = [span for span in spans if span.starts_at <= when]
    since = None
    for span in reversed(begun):
        if span.state != begun[-1].state:
            break
        since = span.starts_at
    return since


def oxygen_by(span: AtmosphereSpan, system: System, when: datetime) -> Oxygen:
    """The estimate carried on from the start of its span with the supply now in the register."""
    facts = SystemFacts(
        kind=system.kind,
        gas_supply=system.gas_supply,
        supply_n2_percent=system.supply_n2_percent,
        service_pressure_gauge_pa=system.service_pressure_gauge_pa,
        atmosphere_pa=system.site.atmosphere_pa,
    )
    feed = Feed(system.gas_supply, system.supply_n2_percent)
    start = Oxygen(span.oxygen_low, span.oxygen_mid, span.oxygen_high)
    return drifted(start, facts, feed, (when - span.starts_at).total_seconds() / DAY_S)
