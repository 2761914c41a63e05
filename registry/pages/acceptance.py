"""What the owner asks of an acceptance, how it was met, and what is lacking: in words."""

from collections.abc import Iterable, Iterator, Sequence

from django.utils.translation import gettext, ngettext

from registry.quantities import format_quantity
from registry.runs import acceptance as codes
from registry.runs.acceptance import Decision, Demands, Hold, Lack


def minutes(seconds: float) -> str:
    """Whole minutes that have gone by; under two, the seconds decide whether it was enough."""
    if seconds < 120 and seconds % 60:
        return format_quantity(seconds, "duration")
    whole = int(seconds // 60)
    return ngettext("{whole} minute", "{whole} minutes", whole).format(whole=whole)


def difference(pa: float, units: str) -> str:
    return format_quantity(pa, "pressure_difference", units)


def demand_words(demands: Demands, units: str) -> Iterator[str]:
    """What is asked beside one reading at target; nothing where that is all."""
    if demands.wait_s:
        yield gettext("The reading counts {wait} after the gas was shut off, not sooner.").format(
            wait=minutes(demands.wait_s)
        )
    if demands.points > 1:
        yield gettext(
            "{points} points, each named and each at target; the worst of them decides."
        ).format(points=demands.points)
    if demands.hold_s:
        yield gettext(
            "The pressure holds for {time} with a fall of {fall} at most, corrected for "
            "temperature where it is written down."
        ).format(time=minutes(demands.hold_s), fall=difference(demands.hold_fall_pa, units))


def lack_words(lacks: Iterable[Lack], demands: Demands, units: str) -> Iterator[str]:
    for lack in lacks:
        if words := _lack_words(lack, demands, units):
            yield words


def _lack_words(lack: Lack, demands: Demands, units: str) -> str:
    found = lack.found or 0.0
    if lack.code == codes.EARLY:
        return gettext(
            "{where} was read {found} after the gas was shut off; the owner asks for {asked}. "
            "Read it again then."
        ).format(
            where=lack.where or gettext("It"), found=minutes(found), asked=minutes(demands.wait_s)
        )
    if lack.code == codes.UNNAMED:
        return gettext(
            "A reading does not say where it was taken: correct it, or read there again."
        )
    if lack.code == codes.POINTS:
        return gettext("{found} of {points} points are read at target. Read the next one.").format(
            found=round(found), points=demands.points
        )
    if lack.code == codes.NO_HOLD:
        return gettext("Every reading is at target. Shut the gas in and watch the pressure.")
    if lack.code == codes.SHORT:
        return gettext("It was held for {found}; the owner asks for {asked}.").format(
            found=minutes(found), asked=minutes(demands.hold_s)
        )
    if lack.code == codes.FELL:
        return gettext(
            "The pressure fell by {found}; {asked} is the most. Look for the leak and hold again, "
            "or purge and fill again."
        ).format(found=difference(found, units), asked=difference(demands.hold_fall_pa, units))
    return ""


def met_words(
    demands: Demands, decision: Decision, hold: Hold | None, units: str, *, atmosphere_pa: float
) -> Sequence[str]:
    """How each demand was met, for whoever was not there."""
    told = []
    if demands.wait_s and decision.points:
        shortest = min(reading.after_fill_s for reading in decision.points)
        told.append(
            gettext("Read {wait} or more after the gas was shut off.").format(
                wait=minutes(shortest)
            )
        )
    if demands.points > 1:
        named = (
            f"{reading.where or gettext('point not named')} "
            f"{format_quantity(reading.n2_percent, 'percent')}"
            for reading in decision.points
        )
        told.append("; ".join(named) + ".")
    if demands.hold_s and hold:
        is_corrected = hold.start_temperature_k and hold.end_temperature_k
        words = (
            gettext("Held for {time}: it fell by {fall}, corrected for temperature.")
            if is_corrected
            else gettext("Held for {time}: it fell by {fall}; temperature not written down.")
        )
        fall = max(hold.fall_pa(atmosphere_pa), 0.0)
        told.append(words.format(time=minutes(hold.duration_s), fall=difference(fall, units)))
    return told
