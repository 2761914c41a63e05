import pytest
from django.db import OperationalError
from django.test import Client
from django.utils import timezone

from registry.jobs import claims
from registry.serving import unready
from registry.views import faults, health

pytestmark = pytest.mark.django_db


def test_a_process_that_answers_is_healthy_and_asks_nothing(client, django_assert_num_queries):
    with django_assert_num_queries(0):
        assert client.get("/health/").text == "ok\n"


def test_ready_says_what_each_part_does(client):
    found = client.get("/ready/").json()
    assert (found["ready"], found["database"], found["worker"]) == (True, "ok", "never seen")
    claims.sign("a:1", timezone.now(), timezone.now())
    assert client.get("/ready/").json()["worker"] == "ok"


def away(*args, **kwargs):
    raise OperationalError("could not connect to server")


def test_without_a_database_it_is_not_ready(client, monkeypatch):
    monkeypatch.setattr(health, "pending_migrations", away)
    answer = client.get("/ready/")
    assert (answer.status_code, answer.json()) == (
        503, {"ready": False, "database": "away", "cache": "ok"},
    )  # fmt: skip


def test_behind_its_migrations_it_is_not_ready(client, monkeypatch):
    monkeypatch.setattr(health, "pending_migrations", lambda: 2)
    assert client.get("/ready/").status_code == 503


@pytest.mark.parametrize(
    ("error", "status", "words"),
    [
        (OperationalError("server closed the connection"), 503, "cannot reach its database"),
        (OperationalError("database or disk is full"), 503, "disk of the server is full"),
        (OSError(28, "No space left on device"), 503, "disk of the server is full"),
        (RuntimeError("a fault of ours"), 500, "Something broke on our side"),
    ],
)
def test_a_page_that_cannot_be_served_says_why(owner, monkeypatch, error, status, words):
    def broken(*args, **kwargs):
        raise error

    client = Client(raise_request_exception=False)
    client.force_login(owner)
    monkeypatch.setattr("registry.views.account.AccountForm", broken)
    answer = client.post("/account/")
    assert (answer.status_code, words in answer.text) == (status, True)
    assert faults.is_full(error) == ("full" in words)


def test_a_command_on_a_database_without_tables_says_what_to_run(monkeypatch):
    monkeypatch.setattr(unready, "pending_migrations", lambda: 9)
    words = unready.unready(OperationalError("no such table: registry_system"))
    assert "9 migrations have not run" in words
    assert "python manage.py migrate" in words


def test_a_command_without_a_database_says_so(monkeypatch):
    monkeypatch.setattr(unready, "pending_migrations", away)
    assert "cannot be reached" in unready.unready(OperationalError("connection refused\nmore"))


def test_an_error_of_our_own_stays_one(db):
    assert unready.unready(OperationalError("something of ours")) is None
