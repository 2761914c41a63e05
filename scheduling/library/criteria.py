"""What a test result has to meet. A verdict informs the person at the riser; they decide."""

from dataclasses import dataclass
from datetime import timedelta

from registry.quantities import PSI

GAUGE_SLACK_PA = 1.0  # below any gauge's reading: keeps a loss of exactly the limit a pass
MAIN_DRAIN_FALL = 0.10
GAUGE_ERROR = 0.03


@dataclass(frozen=True, slots=True)
class LeakTest:
    """A pressure to start from, a time to hold it, and the most that may be lost."""

    key: str
    title: str
    start_gauge_pa: float
    duration: timedelta
    most_lost_pa: float
    source: str
    how_known: str


@dataclass(frozen=True, slots=True)
class Verdict:
    is_met: bool | None  # None: the test was not carried out as described
    text: str


LEAK_TESTS = {
    test.key: test
    for test in (
        LeakTest(
            "gas-leakage",
            "Gas leakage test, every three years",
            40 * PSI,
            timedelta(hours=2),
            3 * PSI,
            "NFPA 25, 2008 on (text seen for 2014)",
            "read, secondary",
        ),
        LeakTest(
            "acceptance",
            "Air test of a new system",
            40 * PSI,
            timedelta(hours=24),
            1.5 * PSI,
            "NFPA 13, 25.2.2 or 28.2.2 by edition, in an adopted code",
            "read, secondary",
        ),
    )
}


def judge_leak_test(
    test: LeakTest, *, start_gauge_pa: float, end_gauge_pa: float, duration: timedelta
) -> Verdict:
    """Pressures as read: a cooler pipe loses pressure without a leak, so log its temperature."""
    if start_gauge_pa < test.start_gauge_pa - GAUGE_SLACK_PA:
        return Verdict(None, f"Begins below {test.start_gauge_pa / PSI:g} psi: not this test.")
    if duration < test.duration:
        return Verdict(None, f"Shorter than {test.duration / timedelta(hours=1):g} h.")
    lost = start_gauge_pa - end_gauge_pa
    is_met = lost <= test.most_lost_pa + GAUGE_SLACK_PA
    word = "within" if is_met else "over"
    return Verdict(is_met, f"{lost / PSI:.2g} psi lost, {word} {test.most_lost_pa / PSI:g} psi.")


def judge_main_drain(*, now_gauge_pa: float, reference_gauge_pa: float) -> Verdict:
    """Full-flow pressure against the first or the last test: a fall of 10 % is investigated
    (NFPA 25 13.2.5, from memory, check the primary document)."""
    if reference_gauge_pa <= 0:
        raise ValueError(f"reference_gauge_pa {reference_gauge_pa:g} is not above 0")
    fall = 1 - now_gauge_pa / reference_gauge_pa
    is_met = fall < MAIN_DRAIN_FALL - 1e-9
    text = f"{max(fall, 0):.0%} below the reference" + ("." if is_met else ": investigate.")
    return Verdict(is_met, text)


def judge_gauge(*, read_pa: float, true_pa: float, full_scale_pa: float) -> Verdict:
    """A gauge is right within 3 % of its full scale (NFPA 25, read second hand)."""
    if full_scale_pa <= 0:
        raise ValueError(f"full_scale_pa {full_scale_pa:g} is not above 0")
    error = abs(read_pa - true_pa) / full_scale_pa
    is_met = error <= GAUGE_ERROR + 1e-9
    return Verdict(is_met, f"{error:.1%} of full scale off" + ("." if is_met else ": replace it."))
