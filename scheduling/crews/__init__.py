"""Which crew does which orders on which day: checked, planned and proven. Pure; no database.

docs/crews.md tells what is planned and what the bound proves.
"""

from scheduling.crews.board import Board, Routes, check_routes, fixed_board
from scheduling.crews.document import plan_document, timed_steps
from scheduling.crews.greedy import delay_order, due_order
from scheduling.crews.instance import (
    Building,
    Crew,
    Day,
    Depot,
    Fixed,
    Instance,
    Order,
    Pause,
    Travel,
    loss,
    worth,
)
from scheduling.crews.planner import CrewPlan, Limits, Progress, StopPlanning, plan_crews
from scheduling.crews.problem import Problem, Shift, Stop
from scheduling.crews.reading import InstanceError, read_instance
from scheduling.crews.reasons import LeftOut, Why
from scheduling.crews.walk import Refusal, Rule, Walk, walk

__all__ = [
    "Board",
    "Building",
    "Crew",
    "CrewPlan",
    "Day",
    "Depot",
    "Fixed",
    "Instance",
    "InstanceError",
    "LeftOut",
    "Limits",
    "Order",
    "Pause",
    "Problem",
    "Progress",
    "Refusal",
    "Routes",
    "Rule",
    "Shift",
    "StopPlanning",
    "Stop",
    "Travel",
    "Walk",
    "Why",
    "check_routes",
    "delay_order",
    "due_order",
    "fixed_board",
    "loss",
    "plan_crews",
    "plan_document",
    "read_instance",
    "timed_steps",
    "walk",
    "worth",
]
