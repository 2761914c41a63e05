"""A worker killed while it loads a register: another goes on, and nothing is there twice."""

import json
import subprocess
import sys

from tests.faults.conftest import PATIENCE_S, ROOT, kill, wait_for

ROWS = 3_000
SYSTEMS = "SELECT count(*) FROM registry_system"


def deed(book, *words: object) -> dict:
    done = subprocess.run(
        [sys.executable, "-m", "tests.faults.import_deeds", *map(str, words)],
        cwd=ROOT, env=book.env, text=True, capture_output=True, timeout=3 * PATIENCE_S,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout.splitlines()[-1])


def killed_while_loading(book, batch: int) -> int:
    before = book.one(SYSTEMS)
    worker = book.start("tests.faults.import_deeds", "advance", str(batch))
    wait_for("the next chunk of systems", lambda: book.one(SYSTEMS) > before, worker)
    kill(worker)
    return book.one(SYSTEMS)


def test_a_load_killed_twice_is_taken_up_and_loads_each_row_once(book):
    received = deed(book, "receive", book.folder, ROWS)
    batch = received["batch"]
    assert received["new"] == ROWS
    assert 0 < killed_while_loading(book, batch) < ROWS // 4
    assert deed(book, "advance", batch)["state"] == "loading", "the other may live"
    deed(book, "fall_silent", batch)
    killed_while_loading(book, batch)
    deed(book, "fall_silent", batch)
    end = deed(book, "advance", batch)
    assert (end["state"], end["error"], end["broken"]) == ("loaded", "", [])
    assert (end["systems"], end["runs"]) == (ROWS // 4, ROWS)
    assert end["records"] == ROWS // 4 + ROWS


def test_a_file_that_ends_each_worker_is_given_up_loudly(book):
    batch = deed(book, "receive", book.folder, 2_000)["batch"]
    attempts = f"SELECT attempts FROM registry_importbatch WHERE id = {batch}"
    for attempt in range(1, 4):
        worker = book.start("tests.faults.import_deeds", "advance", str(batch))
        wait_for("the attempt", lambda wanted=attempt: book.one(attempts) == wanted, worker)
        kill(worker)
        deed(book, "fall_silent", batch)
    end = deed(book, "advance", batch)
    assert end["state"] == "failed"
    assert "tried three times and is given up" in end["error"]
