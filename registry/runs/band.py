"""What a phone needs to judge a reading by the plan and by what the fills before it taught."""

from collections.abc import Sequence
from typing import Any

from registry.models import InertingRun, Record
from registry.runs.progress import fill_logs, left_by, prior_of


def band_state(run: InertingRun, steps: Sequence[Record]) -> dict[str, Any]:
    """The fill under way, or the next once the last was purged: what it starts from, in percent
    and Pa absolute, and the fills before it in mole fractions."""
    logs = fill_logs(run, steps)
    is_open = bool(logs) and logs[-1].purged is None
    before = logs[:-1] if is_open else logs
    filled = logs[-1].filled if is_open else None
    start, left = left_by(run, before)
    atmosphere = run.system.site.atmosphere_pa
    prior = prior_of(run)
    fills = [log.measured for log in before if log.measured]
    return {
        "prior": {"mean": prior.mean, "sd": prior.sd},
        "feed_n2_percent": run.feed_n2_percent,
        "start_n2_percent": start,
        "left_pa": left + atmosphere,
        "reached_pa": filled.details["pressure_gauge_pa"] + atmosphere if filled else None,
        "fills": [
            {
                "start": fill.start_oxygen,
                "oxygen": fill.oxygen,
                "feed": fill.feed_oxygen,
                "ratio": fill.pressure_ratio,
            }
            for fill in fills
        ],
    }
