"""Rules on findings as a table: what was found and what answered it, and what should stand open."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from scheduling.rules import Cause, Facts, Finding, Party, Tuning, drafts_for

NOW = datetime(2026, 6, 1, 12, tzinfo=UTC)
DAY = timedelta(days=1)
OWNER, CONTRACTOR = Party(1, "Averhythe Quays"), Party(2, "Pellmoor Fire Protection")
MEND = ("leak_repair", "Repair of a leak")
INSIDE = ("obstruction", "Obstruction investigation")
THIN = ("thin_wall", "Proposal to replace pipe")
LOW = ("low_points", "Drain low points")
SEARCH = ("leak_search", "Leak search")
SUPPLY = ("gas_supply", "Repair of the gas supply")


def found(number, kind, days_ago=1.0, first_wall_mm=None, first_delivery_s=None, **details):
    at = NOW - days_ago * DAY
    cause = Cause(number, (f"uuid-{number}",), kind, at, at)
    return Finding(cause, kind, details, first_wall_mm, first_delivery_s)


def standing(*findings, **changes):
    facts = Facts(
        now=NOW,
        zone=ZoneInfo("Europe/London"),
        owner=OWNER,
        contractor=CONTRACTOR,
        state="inert",
        since=NOW - 40 * DAY,
        present_since=NOW - 40 * DAY,
        reason="",
        findings=findings,
        has_gas_supply=True,
    )
    return replace(facts, **changes)


def leak(number=1, days_ago=1.0, form="pinhole"):
    return found(number, "event.leak", days_ago, form=form)


def look(number, finding, days_ago=0.5):
    return found(number, "reading.obstruction", days_ago, finding=finding)


def wall(wall_mm, first_wall_mm):
    return found(1, "reading.wall", first_wall_mm=first_wall_mm, wall_mm=wall_mm)


def trip(drained_after, days_ago=1.0):
    return found(1, "event.trip", days_ago, drained_after=drained_after)


def leak_down(end_gauge_pa, start_k=None, end_k=None, number=1, days_ago=1.0, start_gauge_pa=3e5):
    said = {"start_temperature_k": start_k, "end_temperature_k": end_k}
    given = {name: value for name, value in said.items() if value}
    pressures = {"start_gauge_pa": start_gauge_pa, "end_gauge_pa": end_gauge_pa}
    return found(number, "reading.leak_down", days_ago, **pressures, **given)


def delivery(seconds, first_s):
    return found(
        1, "inspection.completed", item="dry-valve-full-trip", delivery_time_s=seconds,
        first_delivery_s=first_s,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("findings", "expected"),
    [
        pytest.param([leak()], [INSIDE, MEND], id="a pinhole"),
        pytest.param([leak(form="unknown")], [INSIDE, MEND], id="a leak nobody explained"),
        pytest.param([leak(form="valve")], [MEND], id="a leaking valve says nothing of the bore"),
        pytest.param([leak(1, 3), leak(2, 1)], [INSIDE, MEND], id="two leaks, one investigation"),
        pytest.param([leak(), look(2, "clear")], [MEND], id="looked into since, and clear"),
        pytest.param([look(2, "clear", 3), leak()], [INSIDE, MEND], id="a leak since that look"),
        pytest.param([leak(), look(2, "slime")], [INSIDE, MEND], id="looked into, and not clear"),
        pytest.param(
            [leak(form="valve"), found(2, "event.repair", 0.5, pipe_opened="no", work="Seat")],
            [],
            id="a leaking valve, repaired",
        ),
        pytest.param([found(1, "event.freeze", found="burst")], [MEND], id="frozen pipe"),
        pytest.param([look(1, "debris")], [INSIDE], id="foreign material"),
        pytest.param([look(1, "scale")], [INSIDE], id="scale"),
        pytest.param([leak(days_ago=5 * 366 + 1)], [], id="five years ago"),
        pytest.param([delivery(59, 40)], [], id="water a little slower"),
        pytest.param([delivery(60, 40)], [INSIDE], id="water half as slow again"),
        pytest.param([delivery(60, None)], [], id="no earlier test to hold it against"),
        pytest.param([wall(1.7, 3.4)], [], id="just half of the wall left"),
        pytest.param([wall(1.69, 3.4)], [THIN], id="less than half of the wall left"),
        pytest.param([wall(0.5, None)], [], id="a wall of pipe the register does not hold"),
        pytest.param(
            [wall(1.0, 3.4), found(2, "event.repair", 0.5, pipe_opened="yes", work="New main")],
            [],
            id="thin pipe that was opened and repaired",
        ),
        pytest.param(
            [wall(1.0, 3.4), found(2, "event.repair", 0.5, pipe_opened="no", work="Hanger")],
            [THIN],
            id="a repair that opened no pipe",
        ),
        pytest.param([trip("yes")], [], id="a trip, drained afterwards"),
        pytest.param([trip("no")], [LOW], id="a trip, not drained"),
        pytest.param([trip("unknown")], [LOW], id="a trip, nobody knows"),
        pytest.param(
            [trip("no"), found(2, "inspection.completed", 0.5, item="low-point-drains")],
            [],
            id="drained as recurring work",
        ),
        pytest.param([found(1, "event.gas_loss", to_gauge_pa=0.0)], [SUPPLY], id="loss of gas"),
        pytest.param(
            [
                found(1, "event.gas_loss", to_gauge_pa=0.0),
                found(2, "event.repair", 0.5, pipe_opened="no", work="Generator membrane"),
            ],
            [],
            id="loss of gas, repaired",
        ),
        pytest.param(
            [
                found(1, "event.gas_loss", to_gauge_pa=0.0),
                found(2, "register.amended", 0.5, gas_supply={"from": "generator", "to": "none"}),
            ],
            [],
            id="another supply since",
        ),
        pytest.param([leak_down(2.7e5)], [SEARCH], id="a tenth of the pressure lost"),
        pytest.param([leak_down(2.71e5)], [], id="not quite a tenth"),
        # By hand: 401,325 Pa * 273.15 / 293.15 = 373,945 Pa, 272,620 Pa on the gauge.
        pytest.param([leak_down(272_620, 293.15, 273.15)], [], id="only colder: nothing is lost"),
        pytest.param([leak_down(268_000, 293.15)], [SEARCH], id="one temperature corrects nothing"),
        # By hand: 371,325 Pa * 303.15 / 293.15 = 383,992 Pa, 282,667 Pa on the gauge.
        pytest.param(
            [leak_down(282_000, 293.15, 303.15)], [SEARCH], id="warmer: it hides the loss"
        ),
        pytest.param([leak_down(283_500, 293.15, 303.15)], [], id="warmer, and not quite a tenth"),
        pytest.param([leak_down(0.0, start_gauge_pa=0.0)], [], id="a test without pressure"),
        pytest.param(
            [leak_down(2e5), leak_down(2.9e5, number=2, days_ago=0.5)],
            [],
            id="a later test that holds",
        ),
        pytest.param(
            [leak_down(2e5), leak_down(2.5e5, number=2, days_ago=0.5)],
            [SEARCH],
            id="a later test that holds no better",
        ),
        pytest.param(
            [leak_down(2e5), found(2, "event.repair", 0.5, pipe_opened="no", work="Cap")],
            [],
            id="the leak repaired",
        ),
    ],
)
def test_drafts(findings, expected):
    assert [(d.rule, d.title) for d in drafts_for(standing(*findings))] == expected


def test_loss_of_gas_without_a_supply_in_the_register_asks_for_no_repair():
    loss = found(1, "event.gas_loss", to_gauge_pa=0.0)
    assert drafts_for(standing(loss, has_gas_supply=False)) == []


def test_a_proposal_goes_to_the_owner_and_an_investigation_to_the_contractor():
    drafts = drafts_for(standing(leak(), wall(1.0, 3.4)))
    assert [(d.kind, d.assigned_to) for d in drafts] == [
        ("obstruction", 2),
        ("replacement", 1),
        ("leak_repair", 2),
    ]


def test_why_says_what_was_found_and_what_is_waited_for():
    (draft,) = drafts_for(standing(wall(1.0, 3.4)))
    assert "31 May 2026: 1.00 mm of wall left of 3.40 mm" in draft.why
    assert "Waits for a repair for which the pipe was opened." in draft.why


def test_a_rule_switched_off_asks_for_nothing():
    off = {"obstruction": Tuning(is_on=False)}
    assert drafts_for(standing(leak(), trip("no"), tuning=off))[0].rule == "low_points"


def test_the_owners_days_move_the_due_day():
    own = {"low_points": Tuning(days=5)}
    (usual,) = drafts_for(standing(trip("no")))
    (later,) = drafts_for(standing(trip("no"), tuning=own))
    assert later.slot.due_at - usual.slot.due_at == 3 * DAY
    assert "5 days after 31 May 2026" in later.due_because
