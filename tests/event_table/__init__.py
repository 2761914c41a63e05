"""Every kind of event and each answer that changes what follows: the table of the trade.

Each row begins with wet or dry pipe of 2 m3 that an accepted run left at 98 % nitrogen and that is
stated to be in service, and says what one record makes of it: the state of the gas, protection,
a piece of the reason for the state, and the rules that raise a follow-up beside the readings that
confirm the run. `source`: P common practice, no source; C computed, by hand in a comment; S NFPA 25
15.6.1 as a college's safety office restates it. Where a row says "in doubt", the trade says "keep
or ask", and the program asks.

What the trade tells apart by other words than ours: a whole drain-down to replace a head is a
drain-down, judged by its four steps; an obstruction investigation and a small repair are repairs;
thermal breathing shows as a relief valve that lets water out.
"""

from tests.event_table.gas_supply import GAS_SUPPLY
from tests.event_table.impairments import IMPAIRMENTS
from tests.event_table.incidents import INCIDENTS
from tests.event_table.pressure_tests import PRESSURE_TESTS
from tests.event_table.rows import PIPES, Row, partial_trip
from tests.event_table.told import TOLD_AT_THE_SIGN
from tests.event_table.water import WATER
from tests.event_table.works import WORKS

__all__ = ["PIPES", "TABLE", "Row", "partial_trip"]

TABLE = [
    *INCIDENTS, *WATER, *WORKS, *PRESSURE_TESTS, *GAS_SUPPLY, *IMPAIRMENTS, *TOLD_AT_THE_SIGN,
]  # fmt: skip
