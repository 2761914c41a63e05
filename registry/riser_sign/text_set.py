"""The words of the sign and of the page behind its code, one whole set for each language.

The Spanish set is the project's own translation, not a sworn one: a reader of the trade should
check it before it hangs anywhere. The order of the work is common practice, no source.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class Texts:
    """Names in braces are filled with what the register holds of the system."""

    language: str
    language_name: str
    title: str
    lead_wet: str
    lead_gas: str
    cautions_title: str
    cautions: tuple[str, ...]
    drain_title: str
    valve: str
    connect: str
    set_point: str
    set_point_unknown: str
    no_room: str
    start: str
    main_drain: str
    close_main: str
    each_further: str
    no_further: str
    two_valves: str
    refill_wet: str
    refill_gas: str
    not_in_register: str
    happened_title: str
    fire: str
    water_wet: str
    water_gas: str
    no_air: str
    tell: str
    call_title: str
    contractor: str
    owner: str
    nobody: str
    write_in: str
    emergency: str
    scan: str
    made: str
    decides: str
    port_name: str
    valve_name: str
    main_drain_name: str
    # the page behind the code
    tell_title: str
    tell_lead: str
    drain_link: str
    what: tuple[tuple[str, str], ...]
    happened: str
    happened_choices: tuple[tuple[str, str], ...]
    steps: tuple[tuple[str, str], ...]
    answers: tuple[tuple[str, str], ...]
    photo: str
    photo_help: str
    words: str
    contact: str
    contact_help: str
    send: str
    back: str
    thanks_title: str
    thanks: str
    thanks_again: str
    gauge: str
    unit: str
    gauge_wrong: str
    photo_wrong: str
    photo_again: str
    choose: str
    calculate: str
    above_rated: str
    gauge_set_point: str
    how_it_went: str
    mend: str
    too_many: str
    too_many_title: str
    optional: str
    nothing_else: str
