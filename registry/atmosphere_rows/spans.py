"""Reading a system's stored spans: which one holds, and what its oxygen has come to by now."""

from collections.abc import Sequence
from datetime import datetime, timedelta

from registry.atmosphere import Feed, Oxygen
from registry.atmosphere.drift import drifted
from registry.models import AtmosphereSpan, OwnerPolicy, System
from registry.services.derive import system_facts
from registry.words.spoken import Number

DAY = timedelta(days=1)


def percent_text(fraction: float) -> str:
    """One decimal, rounded alike on every page: air is 20.9."""
    return f"{Number(100 * fraction):.1f}"


def span_at(spans: Sequence[AtmosphereSpan], when: datetime) -> AtmosphereSpan | None:
    """The span that holds at an instant; None before the first. Spans come oldest first."""
    return next((span for span in reversed(spans) if span.starts_at <= when), None)


def oxygen_by(span: AtmosphereSpan, system: System, when: datetime, *, volume_m3: float) -> Oxygen:
    """The estimate carried on from the start of its span with the supply now in the register.

    No query: drift does not ask for the owner's policy, so the defaults stand in for it.
    """
    facts = system_facts(system, policy=OwnerPolicy(), volume_m3=volume_m3)
    feed = Feed(system.gas_supply, system.supply_n2_percent)
    start = Oxygen(span.oxygen_low, span.oxygen_mid, span.oxygen_high)
    return drifted(start, facts, feed, (when - span.starts_at) / DAY)
