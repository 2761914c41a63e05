import json
import logging

import pytest

from config.logs import JsonFormatter

pytestmark = pytest.mark.django_db


@pytest.fixture
def lines(caplog):
    caplog.set_level(logging.INFO)
    return lambda: [
        json.loads(JsonFormatter().format(record))
        for record in caplog.records
        if record.name == "registry.serving.request_log"
    ]


def test_each_request_is_one_line_with_its_route_and_who_asked(client, owner, lines):
    client.force_login(owner)
    client.get("/account/")
    (line,) = lines()
    assert (line["method"], line["route"], line["status"]) == ("GET", "registry:account", 200)
    assert line["person"] == owner.pk
    assert line["level"] == "INFO"


def test_the_line_holds_no_secret_of_an_address(client, world, lines):
    client.get("/feed/a-secret-token.ics")
    assert "a-secret-token" not in json.dumps(lines())


def test_the_answer_bears_the_id_of_the_request_and_takes_over_that_of_a_proxy(client):
    first = client.get("/sign-in/")["X-Request-ID"]
    assert len(first) == 32
    assert client.get("/sign-in/", headers={"X-Request-ID": "proxy-12345"})["X-Request-ID"] == (
        "proxy-12345"
    )
    forged = client.get("/sign-in/", headers={"X-Request-ID": 'a"} {"b'})["X-Request-ID"]
    assert len(forged) == 32


def test_a_traceback_is_a_part_of_its_line():
    try:
        raise ZeroDivisionError("by zero")
    except ZeroDivisionError:
        record = logging.LogRecord("a", logging.ERROR, "", 0, "it broke", (), None)
        import sys

        record.exc_info = sys.exc_info()
    line = json.loads(JsonFormatter().format(record))
    assert line["message"] == "it broke"
    assert "by zero" in line["traceback"]


def test_pages_are_compressed_and_two_answers_of_the_same_page_differ_in_length(client, owner):
    """The length of what was compressed would tell of the secrets in it."""
    client.force_login(owner)
    answers = [client.get("/account/", headers={"Accept-Encoding": "gzip"}) for _ in range(12)]
    assert {answer["Content-Encoding"] for answer in answers} == {"gzip"}
    assert len({len(answer.content) for answer in answers}) > 1
