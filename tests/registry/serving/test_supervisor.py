"""What ends is started again, later each time; the rest goes on."""

import sys

from registry.serving.supervisor import LONGEST_PAUSE_S, STEADY_S, Kept


class Ended:
    """A process that has ended already."""

    def poll(self):
        return 3


def ended(kept, now):
    kept.process, kept.started_at = Ended(), now


def test_one_that_ends_is_started_again_after_growing_pauses():
    said, pauses, kept = [], [], Kept("worker", [sys.executable, "-c", ""])
    for now in (0.0, 100.0, 200.0, 300.0, 400.0, 500.0, 600.0, 700.0):
        ended(kept, now)
        kept.look(now, said.append)
        pauses.append(kept.again_at - now)
        assert kept.process is None
    assert pauses == [1, 2, 4, 8, 16, 32, LONGEST_PAUSE_S, LONGEST_PAUSE_S]
    assert said[0] == "The worker ended (status 3); it is started again in 1 s."


def test_one_that_ran_for_long_begins_with_the_shortest_pause():
    kept = Kept("worker", [sys.executable, "-c", ""], pause_s=60.0)
    ended(kept, 0.0)
    kept.look(STEADY_S + 1, lambda words: None)
    assert kept.again_at == STEADY_S + 2


def test_it_is_started_when_its_pause_is_over():
    kept = Kept("worker", [sys.executable, "-c", "import time; time.sleep(60)"], again_at=10.0)
    kept.look(9.0, print)
    assert kept.process is None
    kept.look(10.0, print)
    assert kept.process.poll() is None
    kept.process.kill()
    kept.process.wait()
