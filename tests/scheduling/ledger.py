"""What happens to a system, in one line each, for the tests of follow-ups."""

from datetime import timedelta

from tests.factories import NOW, make_record
from tests.restoration import RESTORED

DAY = timedelta(days=1)
COVERED = {
    "nitrogen_before_opening": "yes",
    "regulator_above_system": "yes",
    "flow_until_empty": "yes",
    "one_drain_at_a_time": "yes",
    "extent": "whole",
    "planned": "planned",
}


def head_break(system, when, now=NOW):
    """Lets air in: the system is aerated."""
    return make_record(system, "event.head_break", when, now=now, count=1)


def fire(system, when, now=NOW):
    return make_record(system, "event.fire", when, now=now)


def unclear_drain_down(system, when, now=NOW):
    """Leaves an inert system in doubt."""
    answers = COVERED | {"one_drain_at_a_time": "unknown"}
    return make_record(system, "event.drain_down", when, now=now, **answers)


def accept(system, when, now=NOW, n2_percent=98.6):
    return make_record(
        system,
        "inerting.accepted",
        when,
        now=now,
        fill=3,
        n2_percent=n2_percent,
        target_n2_percent=98.0,
    )


def read(system, when, n2_percent, now=NOW):
    return make_record(system, "reading.gas", when, now=now, n2_percent=n2_percent)


def open_work(system):
    """(rule, title) of everything open."""
    return sorted(system.tasks.open().values_list("rule", "title"))


ORDER = ("aerated", "Re-inerting order")
DOUBT = ("in_doubt", "Nitrogen check")


def confirmations(*days):
    return sorted(("accepted", nitrogen_check(count)) for count in days)


def nitrogen_check(days):
    """As the follow-up is titled."""
    said = {1: "Next-day", 365: "1-year", 730: "2-year", 1095: "3-year"}
    return f"{said.get(days, f'{days}-day')} nitrogen check"


def restore(system, when, now=NOW):
    """Protection back with every answer yes, where a test is about the gas."""
    return make_record(system, "event.impairment_end", when, now=now, ends="all", **RESTORED)
