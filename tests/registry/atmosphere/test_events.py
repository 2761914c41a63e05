import pytest

from registry.atmosphere import breach
from registry.kinds import KINDS
from tests.registry.atmosphere.ledgers import DRY, PSI, WET, item
from tests.restoration import RESTORED

JUDGED = {code for code, kind in KINDS.items() if kind.gas.air}
SILENT = {
    "event.impairment_start",
    "event.impairment_end",
    "event.impairment_answers",
    "event.valve_closed",
    "event.observation",
}
LEAK = {"form": "joint", "through": "water"}
FLOW = {"through": "main_drain"}
LOSS = {"from_gauge_pa": 30 * PSI, "to_gauge_pa": 0.0}
WORK = {"work": "Two branch lines replaced"}


def test_every_kind_of_event_is_judged_or_known_to_say_nothing_of_the_air():
    events = {code for code in KINDS if code.startswith("event.")}
    assert events == JUDGED | SILENT


@pytest.mark.parametrize("kind", ["event.impairment_end", "event.observation", "reading.wall"])
def test_other_records_say_nothing_of_the_air(kind):
    details = {
        "event.impairment_end": RESTORED,
        "event.observation": {"text": "Rust on a hanger"},
        "reading.wall": {"wall_mm": 3.0, "run_role": "riser", "nominal_size": "4"},
    }[kind]
    assert breach(item(kind, 1, **details), WET).air == "none"


@pytest.mark.parametrize(
    ("kind", "details", "air"),
    [
        ("event.trip", {"cause": "test", "drained_after": "yes"}, "all"),
        ("event.head_break", {"count": 2}, "some"),
        ("event.fire", {}, "all"),
        ("event.leak", LEAK | {"air_entered": "yes"}, "some"),
        ("event.leak", LEAK | {"air_entered": "no"}, "kept"),
        ("event.leak", LEAK | {"air_entered": "unknown"}, "perhaps"),
        ("event.leak", LEAK | {"air_entered": "yes", "replaced_percent": 3.0}, "share"),
        ("event.leak", LEAK | {"air_entered": "unknown", "replaced_percent": 0.0}, "kept"),
        ("event.repair", WORK | {"pipe_opened": "no", "under_nitrogen": "unknown"}, "kept"),
        ("event.repair", WORK | {"pipe_opened": "yes", "under_nitrogen": "yes"}, "kept"),
        ("event.repair", WORK | {"pipe_opened": "unknown", "under_nitrogen": "yes"}, "kept"),
        ("event.repair", WORK | {"pipe_opened": "yes", "under_nitrogen": "no"}, "some"),
        ("event.repair", WORK | {"pipe_opened": "yes", "under_nitrogen": "unknown"}, "perhaps"),
        ("event.repair", WORK | {"pipe_opened": "unknown", "under_nitrogen": "no"}, "perhaps"),
        (
            "event.repair",
            WORK | {"pipe_opened": "yes", "under_nitrogen": "no", "replaced_percent": 10.0},
            "share",
        ),
        ("event.gas_loss", {"to_gauge_pa": 5 * PSI, "air_entered": "unknown"}, "kept"),
        ("event.gas_loss", {"to_gauge_pa": 0.0, "air_entered": "unknown"}, "perhaps"),
        ("event.gas_loss", LOSS | {"air_entered": "yes"}, "some"),
        ("event.gas_loss", LOSS | {"air_entered": "no"}, "kept"),
        ("event.air_makeup", {"now": "off"}, "perhaps"),
        ("event.air_makeup", {"now": "off", "rise_pa": 0.0}, "kept"),
        ("event.air_makeup", {"now": "off", "rise_pa": 5 * PSI}, "share"),
    ],
)
def test_each_event_is_judged_from_its_answers(kind, details, air):
    assert breach(item(kind, 1, **details), DRY).air == air


@pytest.mark.parametrize(
    ("facts", "gas_before", "air"),
    [
        (WET, "nitrogen", "kept"),
        (WET, "unknown", "perhaps"),
        (WET, "air", "some"),
        (DRY, "nitrogen", "perhaps"),
        (DRY, "air", "some"),
    ],
)
def test_water_leaves_trapped_gas_alone_but_floods_gas_filled_pipe(facts, gas_before, air):
    assert breach(item("event.water_fill", 1, gas_before=gas_before), facts).air == air


def test_test_flow_leaves_trapped_gas_alone():
    assert breach(item("event.test_flow", 1, **FLOW), WET).air == "kept"


@pytest.mark.parametrize(
    ("facts", "gas_before", "drained", "air"),
    [
        (WET, "nitrogen", "not_drained", "kept"),
        (WET, "nitrogen", "under_nitrogen", "kept"),
        (WET, "nitrogen", "to_air", "some"),
        (WET, "nitrogen", "unknown", "perhaps"),
        (WET, "unknown", "not_drained", "perhaps"),
        (WET, "air", "not_drained", "some"),
        (DRY, "nitrogen", "under_nitrogen", "kept"),
        (DRY, "nitrogen", "not_drained", "perhaps"),
        (DRY, "nitrogen", "to_air", "some"),
        (DRY, "air", "under_nitrogen", "some"),
    ],
)
def test_a_hydrostatic_test_keeps_what_was_there_unless_air_follows_the_water(
    facts, gas_before, drained, air
):
    """Common practice, no source."""
    test = item("event.hydrostatic_test", 1, gas_before=gas_before, drained=drained, held="yes")
    assert breach(test, facts).air == air


def test_share_given_in_percent_is_a_fraction():
    leak = item("event.leak", 1, **LEAK, air_entered="yes", replaced_percent=3.0)
    assert breach(leak, WET).share == pytest.approx(0.03)


@pytest.mark.parametrize(
    ("breached", "lets_in"),
    [
        (item("event.fire", 1), True),
        (item("event.leak", 1, **LEAK, air_entered="yes"), True),
        (item("event.leak", 1, **LEAK, air_entered="yes", replaced_percent=0.0), False),
        (item("event.leak", 1, **LEAK, air_entered="unknown"), False),
    ],
)
def test_only_air_that_is_known_to_have_come_in_counts_as_let_in(breached, lets_in):
    assert breach(breached, WET).lets_air_in is lets_in


@pytest.mark.parametrize("kind", sorted(JUDGED))
def test_every_judgement_gives_a_code_and_one_plain_sentence(kind):
    judged = breach(item_without_answers(kind), DRY)
    assert judged.code
    assert judged.reason.endswith(".") and judged.reason.count(". ") == 0
    assert len(judged.reason) <= 400


def item_without_answers(kind):
    """As an old ledger might hold it: a record whose questions nobody answered."""
    from registry.atmosphere import LedgerItem
    from tests.registry.atmosphere.ledgers import START

    return LedgerItem(1, 1, kind, START, {})


@pytest.mark.parametrize("kind", ["event.leak", "event.repair", "event.gas_loss"])
def test_unanswered_questions_leave_doubt(kind):
    assert breach(item_without_answers(kind), DRY).air == "perhaps"
