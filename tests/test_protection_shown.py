"""Whether the sprinklers would work, wherever a system is shown; and what is urged upon no pipe."""

import csv
import io
import re
from datetime import timedelta
from urllib.parse import urlencode
from uuid import uuid4

import pytest
from django.core import mail
from django.urls import reverse
from django.utils import timezone
from icalendar import Calendar

from registry.models import PipeRun
from registry.services.assessments import assess_system
from scheduling import services
from scheduling.calendars.tokens import issue_token
from scheduling.messages import outbox
from scheduling.messages.sending import send_due
from tests.factories import make_pipe_run, make_record, make_system
from tests.queries import queries_of
from tests.registry.runs_world import do, start
from tests.restoration import RESTORED
from tests.scheduling.ledger import DAY, accept, head_break, restore
from tests.scheduling.orders_world import book, make_crew

pytestmark = pytest.mark.django_db
HOUR = timedelta(hours=1)
WATCH = "Whether there is a fire watch is not known."
IN_SHORT = "Not known: who was told, fire watch."


@pytest.fixture
def now():
    return timezone.now().replace(microsecond=0)


@pytest.fixture
def broken(system, now):
    """A sprinkler is broken: aerated, and out of service in one bay."""
    restore(system, now - 3 * DAY, now=now - 2 * DAY)
    make_record(system, "event.head_break", now - HOUR, now=now, count=1, areas="Bay 4")
    return system


def text_of(response) -> str:
    return text_of_html(response.content.decode())


def text_of_html(html: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", html).split())


def entries(client, user, now, **facts):
    _, secret = issue_token(user=user, label="Mine", scope="person", now=now, **facts)
    calendar = Calendar.from_ical(client.get(reverse("scheduling:feed", args=[secret])).content)
    return [event for event in calendar.walk("VEVENT") if "Out of service" not in event["summary"]]


def test_the_portfolio_has_a_column_and_a_filter_of_its_own(client, world, broken, now):
    fine = make_system(world.site, world.owner, tag="NQ-102")
    restore(fine, now - DAY, now=now)
    asked = make_system(world.site, world.owner, tag="NQ-103")
    client.force_login(world.owner)
    portfolio = reverse("reports:portfolio")
    shown = client.get(portfolio, {"columns": "protection"}).content.decode()
    cells = {
        re.search(r">(NQ-\d+)<", row)[1]: text_of_html(row.rpartition("<td")[2].partition(">")[2])
        for row in shown.partition("<tbody>")[2].split("</tr>")
        if "NQ-" in row
    }
    assert cells == {
        broken.tag: f"Impaired {IN_SHORT}",
        fine.tag: "In service",
        asked.tag: "Not known",
    }
    assert "Impaired since" in text_of(client.get(portfolio))
    for state, tag in (("impaired", broken), ("in_service", fine), ("not_known", asked)):
        found = client.get(portfolio, {"protection": state}).context["desk"].rows
        assert [row.tag for row in found] == [tag.tag]
    ordered = client.get(portfolio, {"sort": "protection"}).context["desk"].rows
    assert [row.tag for row in ordered] == [broken.tag, asked.tag, fine.tag]


def test_system_order_work_and_day_say_it(client, world, broken, now):
    order = broken.tasks.get()
    crew = make_crew(world.contractor)
    begins = now.replace(hour=8, minute=0, second=0) + DAY
    book(order, world.technician, begins, now=now, crew=crew)
    client.force_login(world.technician)
    for address in (broken.get_absolute_url(), order.get_absolute_url()):
        shown = text_of(client.get(address))
        assert "mpaired since" in shown and "Bay 4" in shown
    assert "Out of service since" in text_of(client.get(reverse("scheduling:work")))
    day = reverse("scheduling:day") + "?" + urlencode({"on": f"{begins:%Y-%m-%d}"})
    assert "Out of service since" in text_of(client.get(day))


def test_an_order_says_in_service_and_not_known_as_plainly(client, world, system, now):
    accept(system, now - DAY, now=now)
    client.force_login(world.owner)
    task = system.tasks.open().first()
    assert "Protection now Not known" in text_of(client.get(task.get_absolute_url()))
    assert "Protection not known" in text_of(client.get(reverse("scheduling:work")))
    restore(system, now - HOUR, now=now)
    assert "Protection now In service" in text_of(client.get(task.get_absolute_url()))
    assert "Protection in service" in text_of(client.get(reverse("scheduling:work")))


def test_an_order_on_calendars_follows_protection_as_another_revision(client, world, broken, now):
    (before,) = entries(client, world.owner, now)
    assert "Protection: impaired since" in before["description"]
    assert "Without protection: Bay 4." in before["description"]
    (same,) = entries(client, world.owner, now)
    assert same["last-modified"].dt == before["last-modified"].dt
    make_record(broken, "event.impairment_end", now, now=now, **RESTORED)
    (after,) = entries(client, world.owner, now)
    assert "Protection: in service." in after["description"]
    assert after["last-modified"].dt > before["last-modified"].dt


def test_a_feed_of_many_orders_asks_as_often_as_one_of_few(client, world, now):
    counts = []
    for _ in range(2):
        for _ in range(3):
            head_break(make_system(world.site, world.owner), now - HOUR, now=now)
        _, secret = issue_token(user=world.owner, label="Mine", scope="person", now=now)
        counts.append(queries_of(client, reverse("scheduling:feed", args=[secret])))
    assert counts[1] <= counts[0]  # the first also wrote what the feed keeps


def test_mail_says_it_of_each_order(world, broken, now):
    send_due(lambda: now + outbox.GATHERING)
    said = [sent for sent in mail.outbox if "Re-inerting order" in sent.subject]
    assert said
    for sent in said:
        for text in (sent.body, sent.alternatives[0].content):
            assert "Protection: impaired since" in text and "Bay 4" in text


def test_a_run_that_was_stopped_says_that_protection_is_out(client, world, system, now):
    make_pipe_run(system, world.owner)
    client.force_login(world.technician)
    start(client, system)
    run = system.inerting_runs.get()
    assert "mpaired since" in text_of(client.get(system.get_absolute_url()))
    do(client, run, 92.9)
    stopped = client.post(
        reverse("registry:run-stop", args=[run.pk]),
        {"reason": "Night", "left_as": "Drained", "client_key": uuid4()},
    )
    assert stopped.status_code == 302
    ended = text_of(client.get(run.get_absolute_url()))
    assert "The inerting run was stopped. Left as: Drained." in ended
    assert "Protection is restored: log it" in ended


def test_ledger_strip_and_csv_say_it(client, world, broken):
    client.force_login(world.owner)
    page = client.get(broken.get_absolute_url()).content.decode()
    assert "Under the band, protection: impaired 1 time" in page
    assert "Protection" in text_of(client.get(reverse("reports:ledger", args=[broken.pk])))
    response = client.get(reverse("reports:ledger-csv", args=[broken.pk]))
    rows = list(
        csv.DictReader(io.StringIO(b"".join(response.streaming_content).decode("utf-8-sig")))
    )
    said = {row["record"]: row["protection"] for row in rows}
    assert "impaired" in said["Head break"].lower()


# What nobody answered


def test_unanswered_questions_are_said_as_not_known_and_asked(client, world, broken, now):
    order, client_of = broken.tasks.get(), client.force_login
    client_of(world.technician)
    asks = reverse("registry:record-new", args=[broken.pk, "event.impairment_answers"])
    impairments = reverse("scheduling:impairments", args=[broken.pk])
    for address in (broken.get_absolute_url(), impairments):
        page = client.get(address)
        assert WATCH in text_of(page) and asks in page.content.decode(), address
    assert client.get(asks).status_code == 200
    assert WATCH in text_of(client.get(order.get_absolute_url()))
    assert IN_SHORT in text_of(client.get(reverse("scheduling:work")))
    (entry,) = entries(client, world.technician, now)
    assert WATCH in entry["description"]
    client_of(world.owner)
    for columns in ("", "protection"):
        shown = client.get(reverse("reports:portfolio"), {"columns": columns} if columns else {})
        assert IN_SHORT in text_of(shown)
    (row,) = _rows(client, "reports:portfolio-csv")
    assert (row["protection"], row["protection_not_known"]) == ("impaired", "told_all, fire_watch")
    ledger = _rows(client, "reports:ledger-csv", broken.pk)
    assert [row for row in ledger if IN_SHORT in row["protection"]]
    send_due(lambda: now + outbox.GATHERING)
    for sent in mail.outbox:
        assert WATCH in sent.body and WATCH in sent.alternatives[0].content


def test_a_reader_of_another_language_is_told_in_it(client, world, broken):
    world.technician.language = "es"
    world.technician.save()
    client.force_login(world.technician)
    assert "No se sabe si hay vigilancia contra incendios." in text_of(
        client.get(broken.get_absolute_url())
    )


def test_answers_are_taken_on_one_page_and_nothing_is_asked_any_more(client, world, broken, now):
    client.force_login(world.technician)
    page = reverse("registry:record-new", args=[broken.pk, "event.impairment_answers"])
    form = client.get(page).context["form"]
    assert not any(form[name].value() for name in ("planned", "told_all", "fire_watch"))
    sent = {
        "client_key": uuid4(), "occurred_at": f"{now.astimezone(broken.site.zone):%Y-%m-%dT%H:%M}",
        "told_all": "yes", "fire_watch": "no",
    }  # fmt: skip
    assert client.post(page, sent).status_code == 302
    shown = text_of(client.get(broken.get_absolute_url()))
    assert WATCH not in shown
    assert "There is no fire watch." in shown


def test_answers_that_answer_nothing_are_not_written(client, world, broken, now):
    client.force_login(world.technician)
    page = reverse("registry:record-new", args=[broken.pk, "event.impairment_answers"])
    before = broken.records.count()
    moment = f"{now.astimezone(broken.site.zone):%Y-%m-%dT%H:%M}"
    back = client.post(page, {"client_key": uuid4(), "occurred_at": moment, "of": "1"})
    assert back.status_code == 200 and broken.records.count() == before
    assert "Nothing is answered: answer one of the questions." in text_of(back)
    assert back.context["form"]["of"].value() == "1"


@pytest.mark.parametrize("kind", ["trip", "head_break", "fire", "leak", "freeze", "drain_down"])
def test_the_form_of_what_happens_unasked_asks_both_and_answers_neither(client, world, kind):
    of = "dry" if kind == "trip" else "wet"
    system = make_system(world.site, world.owner, tag="NQ-180", kind=of)
    client.force_login(world.technician)
    page = client.get(reverse("registry:record-new", args=[system.pk, f"event.{kind}"]))
    form = page.context["form"]
    assert [form[name].value() for name in ("told_all", "fire_watch")] == [None, None]


def test_a_drain_down_that_is_not_said_to_be_planned_is_asked_for(system, now):
    """It was taken for planned, and nobody was asked to restore it."""
    steps = ("nitrogen_before_opening", "regulator_above_system", "flow_until_empty",
             "one_drain_at_a_time")  # fmt: skip
    accept(system, now - 3 * DAY, now=now)
    restore(system, now - 2 * DAY, now=now)
    make_record(
        system,
        "event.drain_down",
        now - HOUR,
        now=now,
        extent="whole",
        **dict.fromkeys(steps, "yes"),
    )
    assert "protection" in system.tasks.open().values_list("rule", flat=True)
    assert not system.protection_spans.last().is_planned
    assert system.protection_spans.last().kind_words == ""


def _rows(client, page, *args):
    response = client.get(reverse(page, args=args))
    return list(
        csv.DictReader(io.StringIO(b"".join(response.streaming_content).decode("utf-8-sig")))
    )


# What is urged upon no pipe

LEGEND = "what each week until it is inert adds to the score"
URGED = ("first inerting", "Re-inerting", "Make it inert", "until it is inert", "Nitrogen check")


@pytest.mark.parametrize("material", ["copper", "stainless_steel", "cpvc"])
@pytest.mark.parametrize("happened", ["nothing", "a leak", "a head break"])
def test_pipe_that_does_not_rust_is_urged_nowhere_to_become_inert(
    client, world, system, now, material, happened
):
    PipeRun.objects.filter(system=system).update(material=material)
    if happened == "a leak":
        make_record(
            system,
            "event.leak",
            now - HOUR,
            now=now,
            form="joint",
            through="water",
            air_entered="yes",
        )
    if happened == "a head break":
        head_break(system, now - HOUR, now=now)
    assess_system(system, now)
    services.reconcile(system=system, now=now)
    client.force_login(world.owner)
    risk = reverse("reports:risk", args=[system.pk])
    pages = [system.get_absolute_url(), reverse("reports:portfolio"), risk]
    pages += [reverse("scheduling:work"), *(task.get_absolute_url() for task in system.tasks.all())]
    for address in pages:
        shown = text_of(client.get(address)).replace(LEGEND, "")
        assert not [words for words in URGED if words in shown], address
    send_due(lambda: now + outbox.GATHERING)
    for sent in mail.outbox:
        assert not [words for words in URGED if words in sent.subject + sent.body]


def test_steel_that_never_was_inert_is_still_offered_its_first_inerting(client, world, system):
    client.force_login(world.owner)
    assert "first inerting" in text_of(client.get(system.get_absolute_url()))


def test_the_form_of_a_leak_asks_about_protection_and_the_leak_is_to_be_repaired(
    client, world, system, now
):
    client.force_login(world.technician)
    address = reverse("registry:record-new", args=[system.pk, "event.leak"])
    assert 'name="out_of_service"' in client.get(address).content.decode()
    make_record(
        system, "event.leak", now - HOUR, now=now, form="joint", through="water",
        air_entered="no", out_of_service="yes",
    )  # fmt: skip
    assert set(system.tasks.open().values_list("rule", flat=True)) == {
        "leak_repair",
        "protection",
    }
    assert "Impaired" in text_of(client.get(reverse("reports:portfolio")))
