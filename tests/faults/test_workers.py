"""Workers that die, or are there twice: all is done once, and nothing is lost."""

import time
from collections import Counter

import pytest

from tests.faults.conftest import PATIENCE_S, kill, wait_for
from tests.faults.reckoning import TECHNICIANS, assert_whole

SYSTEMS = 40
GATHERED = 180
PAST_EVERY_LEASE = GATHERED + 660


def running(book, kind: str) -> int:
    return book.one(
        f"SELECT count(*) FROM registry_job WHERE kind = '{kind}' AND state = 'running'"
    )


def test_a_worker_killed_in_the_middle_of_a_sweep(book):
    book.deed(f"make {SYSTEMS}", f"enter 0 {SYSTEMS} Olive unheard", "queue scheduling.sweep 1")
    assert book.tasks() == 0
    worker = book.worker()
    wait_for("the first follow-up", book.tasks, worker)
    kill(worker)
    assert 0 < book.tasks() < SYSTEMS
    assert running(book, "scheduling.sweep") == 1
    assert_whole(book, SYSTEMS, "sweep")


def test_the_next_worker_takes_up_at_once_what_a_killed_one_held(book):
    book.deed(f"make {SYSTEMS}", f"enter 0 {SYSTEMS} Olive unheard", "queue scheduling.sweep 1")
    first = book.worker()
    wait_for("the first follow-up", book.tasks, first)
    kill(first)
    second = book.worker()
    wait_for("every follow-up", lambda: book.tasks() == SYSTEMS, second)
    kill(second)
    assert_whole(book, SYSTEMS, "sweep")


def test_a_worker_killed_in_the_middle_of_planning_again(book):
    """Who takes over goes on from where it was."""
    book.deed("make 60", "set_aside gauges-wet")
    left = (
        "SELECT count(*) FROM scheduling_recurringitem "
        "WHERE \"key\" = 'gauges' AND is_active = {}"
    )  # fmt: skip
    active, rested = (left.format(word) for word in ("TRUE", "FALSE"))
    worker = book.worker()
    come_to = "SELECT coalesce(max(planned_to), 0) FROM scheduling_planasked"
    wait_for("the first systems", lambda: book.one(come_to), worker)
    kill(worker)
    rested_by_the_first, kept = book.one(rested), book.one(come_to)
    assert 0 < rested_by_the_first < 60
    assert running(book, "scheduling.plan") == 1
    found = book.deed("plan")
    print("counts:", {"rested": rested_by_the_first, "kept up to": kept, **found})
    assert rested_by_the_first + found["planned"] >= 60 > found["planned"]
    assert (book.one(active), book.one(rested)) == (0, 60)
    assert book.one("SELECT count(*) FROM scheduling_planasked") == 0


def test_a_worker_killed_in_the_middle_of_a_crew_plan(book):
    """What it found is there to be used, the next worker ends the plan, nothing is booked twice."""
    book.deed("crew_plan 60")
    state = "SELECT count(*) FROM scheduling_weekplan WHERE state = '{}'"
    found = "SELECT coalesce(max(value), 0) FROM scheduling_weekplan"
    first = book.worker()
    wait_for("a plan so far", lambda: book.one(found), first)
    kill(first)
    kept = book.one(found)
    assert kept > 0 and book.one(state.format("running")) == 1
    assert running(book, "scheduling.crew_plan") == 1
    second = book.worker()
    wait_for("the plan", lambda: book.one(state.format("done")), second)
    kill(second)
    assert book.one(found) >= kept
    booked = book.deed("accept_crew_plan")
    assert booked["booked"] == [booked["tasks"], 0] and booked["tasks"] > 0
    assert booked["refused"] == [0, 0]


KILLS = 10


def test_a_worker_killed_ten_times(book):
    """While events come in: each is followed up and told once, and no run is left behind."""
    book.deed(f"make {SYSTEMS}")
    entry = book.begin(f"enter 0 {SYSTEMS} Olive unheard")
    for number in range(KILLS):
        worker = book.worker()
        wait_for("a claim", lambda: book.one(
            "SELECT count(*) FROM registry_job WHERE attempts > 0 AND ended_at IS NULL"
        ), worker)  # fmt: skip
        time.sleep(0.05 * number)
        kill(worker)
    assert entry.wait(PATIENCE_S) == 0
    last = book.worker()
    wait_for("every follow-up", lambda: book.tasks() == SYSTEMS, last)
    done = "SELECT count(*) FROM registry_job WHERE kind = 'scheduling.sweep' AND state = 'done'"
    before = book.one(done)
    wait_for("a sweep that ends", lambda: book.one(done) > before, last)
    kill(last)
    print("counts:", {"kills": KILLS, "tasks": book.tasks()})
    assert_whole(book, SYSTEMS, "sweep")


def test_jobs_that_kill_their_process_are_given_up_and_the_worker_goes_on(book):
    book.deed("make 3", "deadly memory", "deadly time", "deadly kill", "enter 0 3 Olive unheard")
    worker = book.worker()
    given_up = "SELECT count(*) FROM registry_job WHERE state = 'given_up'"
    wait_for("three given up", lambda: book.one(given_up) == 3, worker)
    found = {row[0]: row[1:] for row in book.deed("ended test.deadly")["jobs"]}
    expected = dict.fromkeys(("memory", "time", "kill"), ("given_up", 3))
    assert {how: (state, attempts) for how, (state, attempts, _) in found.items()} == expected
    assert "more than 200 MB" in found["memory"][2]
    assert "longer than" in found["time"][2]
    assert "SIGKILL" in found["kill"][2]
    wait_for("every follow-up", lambda: book.tasks() == 3, worker)
    kill(worker)
    told = "SELECT count(*) FROM scheduling_message WHERE kind = 'job'"
    assert book.one(told) >= 3


@pytest.mark.parametrize("moment", ["before", "after"])
def test_a_worker_killed_with_a_mail_on_the_line(book, moment):
    """Before the server took the mail, its death costs nothing. Once it has, nobody can know: the
    one mail goes out again, under the same Message-ID."""
    book.deed("make 3", "enter 0 3")
    book.post.hold = moment
    worker = book.begin(f"send {GATHERED}")
    assert book.post.is_held.wait(PATIENCE_S)
    kill(worker)
    assert book.one("SELECT count(*) FROM scheduling_message WHERE state = 'claimed'") == 3
    held = book.deed(f"send {GATHERED}", "counts")
    assert held["states"] == {"sent": 6, "claimed": 3}, "taken before the lease was over"
    found = book.deed(f"send {PAST_EVERY_LEASE}", "counts")
    assert found["states"] == {"sent": 3 * TECHNICIANS}
    mails = Counter(book.post.keys())
    assert len(mails) == TECHNICIANS
    assert sorted(mails.values()) == ([1, 1, 1] if moment == "before" else [1, 1, 2])


def test_two_workers_at_once(book):
    half = SYSTEMS // 2
    book.deed(f"make {SYSTEMS}", f"enter 0 {half} Olive unheard")
    workers = [book.worker(), book.worker()]
    entry = book.begin(f"enter {half} {SYSTEMS}")
    wait_for("every follow-up", lambda: book.tasks() == SYSTEMS, *workers)
    assert entry.wait(PATIENCE_S) == 0
    senders = [book.begin(f"send {GATHERED}") for _ in range(2)]
    wait_for("every mail", lambda: book.unsent() == 0)
    assert [sender.wait(PATIENCE_S) for sender in senders] == [0, 0]
    assert [worker.poll() for worker in workers] == [None, None]
    for worker in workers:
        kill(worker)
    assert_whole(book, SYSTEMS)


def test_the_same_event_twice_from_two_people(book):
    book.deed("make 4")
    people = [book.begin(f"enter 0 4 {name}") for name in ("Olive", "Tam", "Olive")]
    assert [person.wait(PATIENCE_S) for person in people] == [0, 0, 0]
    # Two people each had their say; the page that was sent twice is in the book once.
    found = assert_whole(book, 4, "sweep")
    assert found["records"] == 8
