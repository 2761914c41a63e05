import pytest
from django.utils import timezone

from registry.jobs import claims
from registry.jobs.asking import ask
from reports.service.metrics import Gauge, as_text
from scheduling.jobs.kinds import SWEEP
from tests.factories import NOW

pytestmark = pytest.mark.django_db
BEARER = {"Authorization": "Bearer s3cret-token"}


def test_without_a_token_nobody_has_them_and_with_one_whoever_bears_it(client, settings):
    assert client.get("/metrics/", headers={"Authorization": "Bearer "}).status_code == 404
    settings.METRICS_TOKEN = "s3cret-token"
    assert client.get("/metrics/").status_code == 404
    assert client.get("/metrics/", headers={"Authorization": "Bearer other"}).status_code == 404
    assert client.get("/metrics/", headers=BEARER).status_code == 200


def test_they_say_what_an_alert_would_ask_for(client, system, settings):
    settings.METRICS_TOKEN = "s3cret-token"
    claims.sign("a:1", NOW, timezone.now())
    ask(SWEEP, key="", now=NOW)
    claims.give_up(claims.claim(NOW, "a:1"), "no", NOW)
    ask(SWEEP, key="", now=NOW)
    text = client.get("/metrics/", headers=BEARER).text
    assert 'riserbook_jobs_given_up{kind="scheduling.sweep"} 1\n' in text
    assert 'riserbook_jobs{kind="scheduling.sweep",state="waiting"} 1\n' in text
    assert "riserbook_systems 1\n" in text
    assert "# TYPE riserbook_rules_unfinished gauge\n" in text
    age = float(text.partition("\nriserbook_worker_age_seconds ")[2].split()[0])
    assert 0 <= age < 600


def test_labels_are_escaped_as_the_format_asks():
    text = as_text([Gauge("a", "b", [({"kind": 'x"\\\n'}, float("inf"))])])
    assert text.splitlines()[2] == r'a{kind="x\"\\\n"} +Inf'
