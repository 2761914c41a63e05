"""Which readings an item asks for, and what each comes to against its limit."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from registry.kinds.events import DRAIN_DOWN, REPAIR
from registry.kinds.events import TRIP as TRIP_EVENT
from registry.pages.cautions import CAUTIONS, Caution
from scheduling.library.criteria import LEAK_TESTS, judge_leak_test, judge_main_drain
from scheduling.recurring.drafting import SAMPLE

Details = Mapping[str, Any]
SLOWER = 1.5  # half as long again: a condition for an obstruction investigation


@dataclass(frozen=True)
class Advice:
    """What completing an item may have done to the gas, and the record that says so."""

    kind: str
    text: str


FIELDS: Mapping[str, tuple[str, ...]] = {
    "main-drain": ("static_gauge_pa", "residual_gauge_pa"),
    "gas-leakage": ("start_gauge_pa", "end_gauge_pa", "duration_s", "temperature_k"),
    "dry-valve-full-trip": ("trip_time_s", "delivery_time_s"),
    "valve-full-trip": ("trip_time_s", "delivery_time_s"),
    "dry-valve-partial-trip": ("trip_time_s",),
}
ALWAYS = ("readings",)
TRIP = Advice(
    TRIP_EVENT.code,
    "A trip lets water and air into the pipe. Log it as an event too: it decides whether the "
    "nitrogen is still there.",
)
OPENED = Advice(
    REPAIR.code,
    "Opening the pipe lets air in unless nitrogen kept flowing. Log it as an event too.",
)
DRAINED = Advice(
    DRAIN_DOWN.code,
    "Draining lets air in unless nitrogen covered it and one drain was open at a time. Log it as "
    "an event too.",
)
ADVICE: Mapping[str, Advice] = {
    "dry-valve-full-trip": TRIP,
    "dry-valve-partial-trip": TRIP,
    "valve-full-trip": TRIP,
    "internal-assessment": OPENED,
    "check-valve-interior": OPENED,
    "alarm-valve-interior": OPENED,
    "dry-valve-interior": OPENED,
    "low-point-drains": DRAINED,
}
SAMPLE_FIELDS = ("tested", "failed")
GAS_CAUTIONS = ("nitrogen", "cylinders", "pressure", "local_codes")
WATER_CAUTIONS = ("draining", "nitrogen", "local_codes")
LOOK_CAUTIONS = ("local_codes",)


def fields_of(key: str) -> tuple[str, ...]:
    return (*(SAMPLE_FIELDS if key.startswith(SAMPLE) else FIELDS.get(key, ())), *ALWAYS)


def cautions_for(key: str, group: str) -> list[Caution]:
    """Looking impairs nothing; tests with gas, and work that opens or drains pipe, do."""
    names = LOOK_CAUTIONS if group == "inspection" and not advice_for(key) else WATER_CAUTIONS
    return [CAUTIONS[name] for name in (GAS_CAUTIONS if key == "gas-leakage" else names)]


def advice_for(key: str) -> Advice | None:
    return OPENED if key.startswith(SAMPLE) else ADVICE.get(key)


def verdict(key: str, details: Details, before: Sequence[Details]) -> str:
    """What the readings come to; `before` are the details of earlier completions, first to last."""
    return " ".join(_verdicts(key, details, before))


def _verdicts(key: str, details: Details, before: Sequence[Details]) -> Iterator[str]:
    if key == "gas-leakage":
        yield from _leakage(details)
    if "residual_gauge_pa" in details:
        yield from _main_drain(details, before)
    if "delivery_time_s" in details:
        yield from _delivery(details, before)
    if details.get("failed"):
        yield "A sprinkler failed: replace all of its sample area."


def _leakage(details: Details) -> Iterator[str]:
    names = ("start_gauge_pa", "end_gauge_pa", "duration_s")
    if all(name in details for name in names):
        start, end, seconds = (details[name] for name in names)
        yield judge_leak_test(
            LEAK_TESTS["gas-leakage"],
            start_gauge_pa=start,
            end_gauge_pa=end,
            duration=timedelta(seconds=seconds),
        ).text


def _main_drain(details: Details, before: Sequence[Details]) -> Iterator[str]:
    """Against the first test on record and the last, since a slow fall hides from the last."""
    known = [row["residual_gauge_pa"] for row in before if row.get("residual_gauge_pa")]
    if known:
        worst = max(known[0], known[-1])
        name = "first" if worst == known[0] else "last"
        judged = judge_main_drain(
            now_gauge_pa=details["residual_gauge_pa"], reference_gauge_pa=worst
        )
        yield f"Against the {name} test: {judged.text}"


def _delivery(details: Details, before: Sequence[Details]) -> Iterator[str]:
    known = [row["delivery_time_s"] for row in before if row.get("delivery_time_s")]
    if known and details["delivery_time_s"] >= SLOWER * known[0]:
        share = details["delivery_time_s"] / known[0] - 1
        yield f"Water took {share:.0%} longer than at the first test: investigate for obstruction."
