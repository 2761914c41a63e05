"""What a row of the table says, the pipe it is of, and the answers that many rows share."""

from dataclasses import replace
from typing import NamedTuple

from registry.kinds import KINDS, Kind
from tests.registry.atmosphere.ledgers import DRY, PSI, UNREAD, WET

PIPES = {
    "wet": replace(WET, volume_m3=2.0, policy=UNREAD),
    "dry": replace(DRY, volume_m3=2.0, policy=UNREAD),
    "preaction": replace(
        DRY, kind="preaction", volume_m3=2.0, service_pressure_gauge_pa=2 * PSI, policy=UNREAD
    ),
    "antifreeze": replace(WET, kind="antifreeze", volume_m3=2.0, policy=UNREAD),
}
STEPS = (
    "nitrogen_before_opening",
    "regulator_above_system",
    "flow_until_empty",
    "one_drain_at_a_time",
)
KEPT = dict.fromkeys(STEPS, "yes")
BROKEN = KEPT | {"flow_until_empty": "no"}
TRIP = {"drained_after": "yes"}
LEAK = {"form": "joint", "through": "water", "air_entered": "no"}
OWN = {"planned": "planned"}
WORK = {"work": "Tee"} | OWN
HELD = {"held": "yes"}
LOSS = {"to_gauge_pa": 0.0, "air_entered": "unknown"}
VENT = {"isolated": "yes", "left_as": "works"}
BYPASS = {"bypass_used": "no", "closed_after": "yes"}
HEAD = {"count": 1, "how": "unknown", "under_nitrogen": "unknown"} | OWN
PUMP = {"starts": 40, "more_often": "no"}
FDC = {"part": "fire_department_connection"}


class Row(NamedTuple):
    kind: str
    pipe: str
    answers: dict
    state: str
    protection: str
    reason: str
    raises: str = ""
    source: str = "P"

    def __str__(self) -> str:
        said = ",".join(f"{name}={answer}" for name, answer in self.answers.items())
        return f"{self.kind}@{self.pipe}[{said}]"

    @property
    def definition(self) -> Kind:
        return KINDS[f"event.{self.kind}"]


def partial_trip(**answers):
    return TRIP | {"cause": "test", "scope": "partial"} | answers


def full_trip(**answers):
    return TRIP | {"cause": "test", "scope": "full"} | answers


def steps(kind: str, pipe: str, **answers) -> list[Row]:
    """The four steps of a drain-down, one by one."""
    whole = KEPT | answers
    return [
        Row(kind, pipe, whole, "inert", "impaired", "throughout"),
        *(Row(kind, pipe, whole | {step: "no"}, "aerated", "impaired", "", "aerated")
          for step in STEPS),
        *(Row(kind, pipe, whole | {step: "unknown"}, "in_doubt", "impaired", "not known",
              "in_doubt") for step in STEPS),
    ]  # fmt: skip
