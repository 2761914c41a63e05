"""What can happen to a system, by subject; whoever needs one kind imports it from here by name."""

from registry.kinds.events.gas_supply import (
    AIR_MAKEUP,
    COMPRESSOR_WORK,
    GAS_LOSS,
    GAS_SUPPLY,
    GENERATOR_BYPASS,
    GENERATOR_WORK,
)
from registry.kinds.events.impairments import (
    IMPAIRMENT_ANSWERS,
    IMPAIRMENT_END,
    IMPAIRMENT_START,
    IMPAIRMENTS,
    VALVE_CLOSED,
)
from registry.kinds.events.incidents import FIRE, FREEZE, HEAD_BREAK, INCIDENTS, LEAK, TRIP
from registry.kinds.events.observations import OBSERVATION, OBSERVATIONS
from registry.kinds.events.pressure_tests import (
    HYDROSTATIC_TEST,
    PNEUMATIC_TEST,
    PRESSURE_TESTS,
    SUPPLY_TEST,
)
from registry.kinds.events.told import TOLD, TOLD_AT_THE_SIGN
from registry.kinds.events.water import (
    ANTIFREEZE_EXCHANGE,
    DRAIN_DOWN,
    DRUM_DRIP,
    FLUSHING,
    PUMP_STARTS,
    RELIEF_OPENED,
    TEST_FLOW,
    VALVE_LEAKS_THROUGH,
    WATER,
    WATER_FILL,
)
from registry.kinds.events.work import HEAD_REPLACED, REPAIR, VALVE_OPENED, VENT_WORK, WORK

__all__ = [
    "AIR_MAKEUP",
    "ANTIFREEZE_EXCHANGE",
    "BY_SUBJECT",
    "COMPRESSOR_WORK",
    "DRAIN_DOWN",
    "DRUM_DRIP",
    "FIRE",
    "FLUSHING",
    "FREEZE",
    "GAS_LOSS",
    "GENERATOR_BYPASS",
    "GENERATOR_WORK",
    "HEAD_BREAK",
    "HEAD_REPLACED",
    "HYDROSTATIC_TEST",
    "IMPAIRMENT_ANSWERS",
    "IMPAIRMENT_END",
    "IMPAIRMENT_START",
    "LEAK",
    "OBSERVATION",
    "PNEUMATIC_TEST",
    "PUMP_STARTS",
    "RELIEF_OPENED",
    "REPAIR",
    "SUPPLY_TEST",
    "TEST_FLOW",
    "TOLD",
    "TRIP",
    "VALVE_CLOSED",
    "VALVE_LEAKS_THROUGH",
    "VALVE_OPENED",
    "VENT_WORK",
    "WATER_FILL",
]

BY_SUBJECT = {
    "events/incidents": INCIDENTS,
    "events/water": WATER,
    "events/work": WORK,
    "events/pressure_tests": PRESSURE_TESTS,
    "events/gas_supply": GAS_SUPPLY,
    "events/impairments": IMPAIRMENTS,
    "events/observations": OBSERVATIONS,
    "events/told": TOLD_AT_THE_SIGN,
}
