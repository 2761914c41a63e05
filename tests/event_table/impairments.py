"""Rows of protection out of service and back, and of what changes nothing."""

from registry.protection.restoration import FACTS
from tests.event_table.rows import OWN, Row
from tests.restoration import RESTORED

TOLD = ("notified",)
"""Restoration facts that say nothing of whether water would flow."""

IMPAIRMENTS = [
    Row("impairment_start", "wet", {"areas": "Bay 1"}, "inert", "impaired", "accepted",
        "protection", "S"),
    Row("impairment_start", "wet", {"areas": "Bay 1"} | OWN, "inert", "impaired", "accepted", "",
        "S"),
    Row("impairment_start", "wet", {"areas": "Bay 1", "planned": "emergency"}, "inert",
        "impaired", "accepted", "protection", "S"),
    Row("impairment_end", "wet", RESTORED, "inert", "in_service", "accepted"),
    *(Row("impairment_end", "wet", RESTORED | {fact: "unknown"}, "inert", "not_known", "accepted")
      for fact in FACTS),
    *(Row("impairment_end", "wet", RESTORED | {fact: "no"}, "inert", "impaired", "accepted",
          "protection") for fact in FACTS if fact not in TOLD),
    *(Row("impairment_end", "wet", RESTORED | {fact: "no"}, "inert", "not_known", "accepted")
      for fact in TOLD),
    Row("valve_closed", "wet", {"valve": "CV-1"}, "inert", "impaired", "accepted", "protection",
        "S"),
    Row("valve_closed", "wet", {"valve": "CV-1"} | OWN, "inert", "impaired", "accepted", "", "S"),
    Row("valve_closed", "wet", {"valve": "CV-1", "planned": "emergency"}, "inert", "impaired",
        "accepted", "protection", "S"),
    Row("impairment_answers", "wet", {"told_by": "By phone"}, "inert", "in_service", "accepted"),
    Row("impairment_answers", "wet", {"told_all": "no", "fire_watch": "unknown"}, "inert",
        "in_service", "accepted"),
    Row("observation", "wet", {"text": "Rust"}, "inert", "in_service", "accepted"),
]  # fmt: skip
