"""Facts and texts -> what stands on the sign and on the page behind its code, line by line."""

from dataclasses import dataclass
from datetime import date

from registry.quantities import format_quantity
from registry.riser_sign.facts import SignFacts
from registry.riser_sign.texts import EN, TEXTS, Texts
from registry.runs.planning import COVER_MARGIN_PA, LEAST_PUSH_PA
from registry.translation import in_english, language_of

MONTHS_ES = (
    "enero", "febrero", "marzo", "abril", "mayo", "junio", "julio", "agosto", "septiembre",
    "octubre", "noviembre", "diciembre",
)  # fmt: skip
"""Dates of the sign do not go by the language of whoever prints it."""


@dataclass(frozen=True)
class Call:
    """A telephone number, or the line on which to write it."""

    role: str
    name: str
    telephone: str
    write_in: str = ""

    @property
    def dial(self) -> str:
        return "".join(sign for sign in self.telephone if sign.isdigit() or sign == "+")


@dataclass(frozen=True)
class SignWords:
    language: str
    title: str
    system: str
    place: str
    lead: str
    cautions: tuple[str, ...]
    steps: tuple[str, ...]
    happened: tuple[str, ...]
    calls: tuple[Call, ...]


def sign_words(facts: SignFacts, language: str) -> SignWords:
    """A sign speaks the languages of its site, whoever prints it or looks at it."""
    with language_of(language):
        return _sign_words(facts, language)


def _sign_words(facts: SignFacts, language: str) -> SignWords:
    texts = TEXTS.get(language, EN)
    return SignWords(
        language=texts.language,
        title=str(texts.title),
        system=facts.tag,
        place=facts.place,
        lead=str(texts.lead_gas if facts.is_gas_filled else texts.lead_wet),
        cautions=tuple(_filled(texts, caution, facts) for caution in texts.cautions),
        steps=tuple(_steps(facts, texts)),
        happened=tuple(_happened(facts, texts)),
        calls=tuple(_calls(facts, texts)),
    )


def both_units(pressure_pa: float, language: str = "en") -> str:
    """psi and bar, always: whoever stands there has the gauge that hangs there."""
    with in_english():
        us, si = (format_quantity(pressure_pa, "pressure", units) for units in ("us", "si"))
    words = f"{us} ({si})".replace(" gauge", "").replace(" ", "\u00a0")
    return words.replace(".", ",") if language == "es" else words


def day_words(day: date, language: str) -> str:
    if language == "es":
        return f"{day.day} de {MONTHS_ES[day.month - 1]} de {day.year}"
    return f"{day.day} {day:%B} {day.year}"


def set_point_for(facts: SignFacts, gauge_pa: float, language: str) -> str:
    """For the pressure that somebody reads at the gauge; says so where there is no room."""
    texts = TEXTS.get(language, EN)
    set_point = min(gauge_pa + COVER_MARGIN_PA, facts.rated_gauge_pa)
    if set_point - gauge_pa < LEAST_PUSH_PA:
        return _filled(texts, texts.above_rated, facts)
    return _filled(texts, texts.gauge_set_point, facts, set_point=both_units(set_point, language))


def _filled(texts: Texts, text: str, facts: SignFacts, **more: str) -> str:
    pressures = {
        "rated": facts.rated_gauge_pa,
        "margin": COVER_MARGIN_PA,
        "service": facts.service_gauge_pa,
    }
    known = {
        name: both_units(pressure_pa, texts.language)
        for name, pressure_pa in pressures.items()
        if pressure_pa is not None
    }
    return str(text).format(**known, **more)


def _named(names: tuple[str, ...], what: str, texts: Texts) -> str:
    if not names:
        return str(texts.not_in_register).format(part=what)
    return f"{what} {'; '.join(names)}"


def _steps(facts: SignFacts, texts: Texts):
    drain = _named(facts.main_drains, texts.main_drain_name, texts)
    yield _filled(texts, texts.connect, facts, port=_named(facts.ports, texts.port_name, texts))
    yield _set_point(facts, texts)
    yield _filled(
        texts, texts.valve, facts, valve=_named(facts.control_valves, texts.valve_name, texts)
    )
    yield str(texts.start)
    yield _filled(texts, texts.main_drain, facts, drain=drain)
    closed = _filled(texts, texts.close_main, facts, drain=str(texts.main_drain_name))
    yield f"{closed} {_further(facts, texts)}"
    yield str(texts.refill_gas if facts.is_gas_filled else texts.refill_wet)


def _further(facts: SignFacts, texts: Texts) -> str:
    if facts.further_drains:
        listed = " → ".join(facts.further_drains)
        said = _filled(texts, texts.each_further, facts, drains=listed)
    else:
        said = str(texts.no_further)
    return f"{said} {texts.two_valves}" if facts.is_gas_filled else said


def _set_point(facts: SignFacts, texts: Texts) -> str:
    if facts.has_no_room:
        return _filled(texts, texts.no_room, facts)
    if facts.set_point_gauge_pa is None:
        return _filled(texts, texts.set_point_unknown, facts)
    return _filled(
        texts,
        texts.set_point,
        facts,
        set_point=both_units(facts.set_point_gauge_pa, texts.language),
    )


def _happened(facts: SignFacts, texts: Texts):
    valve = _named(facts.control_valves, texts.valve_name, texts)
    yield str(texts.fire)
    yield _filled(
        texts, texts.water_gas if facts.is_gas_filled else texts.water_wet, facts, valve=valve
    )
    yield str(texts.no_air)
    yield str(texts.tell)


def _calls(facts: SignFacts, texts: Texts):
    asked = "" if facts.contractor_telephone else str(texts.write_in)
    name = facts.contractor or str(texts.nobody)
    yield Call(str(texts.contractor), name, facts.contractor_telephone, asked)
    asked = "" if facts.owner_telephone else str(texts.write_in)
    yield Call(str(texts.owner), facts.owner, facts.owner_telephone, asked)
