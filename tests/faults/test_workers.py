"""Workers and clocks that die, wait, or are there twice: all is done once, and nothing is lost."""

from collections import Counter

import pytest

from tests.faults.conftest import ON_REDIS, PATIENCE_S, kill, wait_for
from tests.faults.reckoning import TECHNICIANS, assert_whole

SYSTEMS = 40
GATHERED = 180
PAST_EVERY_LEASE = GATHERED + 660


def test_a_worker_killed_in_the_middle_of_a_sweep(book):
    book.deed(f"make {SYSTEMS}", f"enter 0 {SYSTEMS} Olive unheard", "queue sweep 1")
    assert book.tasks() == 0
    worker = book.worker()
    wait_for("the first follow-up", book.tasks, worker)
    kill(worker)
    assert 0 < book.tasks() < SYSTEMS
    assert book.one("SELECT count(*) FROM scheduling_jobrun WHERE state = 'running'") == 1
    assert_whole(book, SYSTEMS, "sweep")


def test_a_worker_killed_in_the_middle_of_planning_again(book):
    """Who takes over goes on from where it was, once the other has been silent for long enough."""
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
    assert book.deed("plan")["planned"] is None, "taken over from one that may live"
    found = book.deed("plan 400")
    print("counts:", {"rested": rested_by_the_first, "kept up to": kept, **found})
    assert rested_by_the_first + found["planned"] >= 60 > found["planned"]
    assert (book.one(active), book.one(rested)) == (0, 60)
    assert book.one("SELECT count(*) FROM scheduling_planasked") == 0
    assert book.one("SELECT count(*) FROM scheduling_jobrun WHERE state = 'lost'") == 1


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


def test_two_workers_and_two_clocks_at_once(book):
    half = SYSTEMS // 2
    book.deed(f"make {SYSTEMS}", f"enter 0 {half} Olive unheard")
    workers = [book.worker("--beat"), book.worker("--beat")]
    entry = book.begin(f"enter {half} {SYSTEMS}")
    wait_for("every follow-up", lambda: book.tasks() == SYSTEMS, *workers)
    assert entry.wait(PATIENCE_S) == 0
    senders = [book.begin(f"send {GATHERED}") for _ in range(2)]
    wait_for("every mail", lambda: book.unsent() == 0)
    assert [sender.wait(PATIENCE_S) for sender in senders] == [0, 0]
    assert book.one("SELECT count(*) FROM scheduling_lease") == 1
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


@pytest.mark.skipif(ON_REDIS, reason="the queue is a Redis here; runs with the folder")
def test_a_queue_folder_full_of_stale_messages(book):
    book.deed("make 5", "enter 0 5 Olive unheard", "queue send_messages 60", "queue sweep 20")
    folder = book.folder / "queue"
    assert len(list(folder.iterdir())) == 80
    worker = book.worker()
    wait_for("every follow-up", lambda: book.tasks() == 5, worker)
    wait_for("an empty queue", lambda: not list(folder.iterdir()), worker)
    assert worker.poll() is None
    kill(worker)
    assert_whole(book, 5)
