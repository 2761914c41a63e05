"""What a mail says, to whom, when, and what it keeps to itself."""

import re
import smtplib
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.core import mail
from django.urls import reverse

from registry.models import Membership, ServiceContract
from scheduling.messages import outbox
from scheduling.messages.causes import note_late
from scheduling.messages.links import unsubscribe_link
from scheduling.messages.mail import is_permanent
from scheduling.messages.quiet import quiet_until
from scheduling.messages.sending import deliver_next, send_due
from scheduling.models import MailPreference, Message, Task
from tests.factories import NOW, make_system, make_user
from tests.scheduling.ledger import DAY, accept, head_break

pytestmark = pytest.mark.django_db
LATER = NOW + outbox.GATHERING
LONDON = ZoneInfo("Europe/London")
BACKEND = "django.core.mail.backends.locmem.EmailBackend.send_messages"


def send(now=LATER):
    send_due(lambda: now)
    return mail.outbox


def state_of(person):
    return list(person.mail.order_by("pk").values_list("state", flat=True))


@pytest.fixture
def order(system):
    head_break(system, NOW - DAY)
    return Task.objects.get()


def test_an_assignment_says_what_where_until_when_and_links_to_it(order, world, settings):
    (sent,) = send()
    assert sent.to == [world.technician.email]
    assert sent.subject == "Re-inerting order, NQ-101, North Quay: given to you"
    html = sent.alternatives[0].content
    for text in (sent.body, html):
        assert settings.PUBLIC_URL + order.get_absolute_url() in text
        assert "displaces the air people breathe" in text
        assert "authority having jurisdiction" in text
    assert state_of(world.technician) == ["sent"]


def test_both_parts_of_a_mail_speak_the_readers_language(order, world):
    world.technician.language = "es"
    world.technician.save(update_fields=["language"])
    (sent,) = send()
    html = sent.alternatives[0].content
    assert '<html lang="es">' in html
    for text in (sent.body, html):
        assert f"Esto se envió a {world.technician.email}" in text
        assert "follow-up" not in text and "you are told" not in text
    assert "su organización ha recibido un seguimiento." in sent.body


def test_plain_text_and_html_name_the_same_links(order):
    (sent,) = send()
    pattern = r"https?://[^\s\"<]+"
    in_html = set(re.findall(pattern, sent.alternatives[0].content))
    assert set(re.findall(pattern, sent.body)) == in_html


def test_follow_ups_given_within_minutes_come_in_one_mail(world):
    for _ in range(3):
        head_break(make_system(world.site, world.owner), NOW - DAY)
    (sent,) = send()
    assert sent.subject == "3 follow-ups given to you"
    assert state_of(world.technician) == ["sent"] * 3


def test_sending_again_sends_nothing_twice(order):
    assert len(send()) == len(send(LATER + DAY)) == 1


def test_a_reader_who_lost_the_contract_meanwhile_is_told_nothing(order, world):
    ServiceContract.objects.update(ends_on=NOW.date() - timedelta(days=30))
    assert send() == []
    assert state_of(world.technician) == ["dropped"]


def test_a_mail_names_only_what_its_reader_may_still_see(order, world):
    other = make_system(world.other_site, world.stranger, tag="IS-900")
    outbox.write(
        kind="assignment",
        cause_key="leak",
        people=[world.technician],
        task=_order_of(other),
        now=NOW,
    )
    sent = next(one for one in send() if one.to == [world.technician.email])
    assert "NQ-101" in sent.body
    assert "IS-900" not in sent.body + sent.alternatives[0].content
    assert state_of(world.technician) == ["sent", "dropped"]


def _order_of(system):
    head_break(system, NOW - DAY)
    return system.tasks.get()


def test_an_order_closed_meanwhile_is_not_announced(system, order, world):
    accept(system, NOW - DAY / 2)
    send()
    assert "Re-inerting" not in "".join(sent.body for sent in mail.outbox)
    assert Message.objects.get(task=order).state == "dropped"


def test_one_who_no_longer_signs_in_gets_nothing(order, world):
    world.technician.is_active = False
    world.technician.save()
    assert send() == []
    assert state_of(world.technician) == ["dropped"]


def test_an_escalation_is_not_sent_once_the_work_is_no_longer_late(order, owner, world):
    note_late(order, [owner], "level 1", NOW)
    send()
    assert state_of(owner) == ["dropped"]
    late = order.due_at + timedelta(hours=1)
    note_late(order, [owner], "level 2", late)
    send(late)
    assert mail.outbox[-1].subject == "Re-inerting order, NQ-101, North Quay: late"
    assert "Late since today" in mail.outbox[-1].body
    assert state_of(owner) == ["dropped", "sent"]


def test_a_tag_with_a_line_break_adds_no_header(order, system):
    type(system).objects.filter(pk=system.pk).update(tag="NQ\r\nBcc: all@averhythe.example")
    (sent,) = send()
    assert "\n" not in sent.subject
    assert "Bcc" not in sent.message()


def test_markup_in_a_name_stays_text(order, system):
    type(system).objects.filter(pk=system.pk).update(tag="<b>NQ</b>")
    (sent,) = send()
    assert "&lt;b&gt;NQ&lt;/b&gt;" in sent.alternatives[0].content
    assert "<b>NQ</b>" in sent.body


@pytest.mark.parametrize("error", [ConnectionRefusedError("refused"), TimeoutError("too slow")])
def test_a_mail_server_that_is_away_is_tried_again_later(order, world, monkeypatch, error):
    monkeypatch.setattr(
        "django.core.mail.backends.locmem.EmailBackend.send_messages", _fails(error)
    )
    assert send() == []
    message = Message.objects.get()
    assert (message.state, message.attempts) == ("pending", 1)
    assert message.not_before == LATER + outbox.WAITS[0]
    monkeypatch.undo()
    (sent,) = send(message.not_before)
    assert sent.extra_headers["Message-ID"].startswith(f"<{message.parcel}@")
    assert state_of(world.technician) == ["sent"]


def test_a_mailbox_that_does_not_exist_is_given_up_at_once(order, world, monkeypatch):
    refused = smtplib.SMTPRecipientsRefused({"x": (550, b"no such mailbox")})
    monkeypatch.setattr(BACKEND, _fails(refused))
    send()
    message = Message.objects.get()
    assert (message.state, message.attempts) == ("failed", 1)
    assert "no such mailbox" in message.last_error


def _fails(error):
    def send_messages(self, messages):
        raise error

    return send_messages


@pytest.mark.parametrize(
    ("error", "is_final"),
    [
        (smtplib.SMTPRecipientsRefused({"x": (550, b"no")}), True),
        (smtplib.SMTPRecipientsRefused({"x": (450, b"later")}), False),
        (smtplib.SMTPDataError(554, b"refused"), True),
        (smtplib.SMTPDataError(451, b"later"), False),
        (smtplib.SMTPAuthenticationError(535, b"bad password"), False),
        (smtplib.SMTPServerDisconnected("gone"), False),
    ],
)
def test_only_what_the_server_will_say_tomorrow_too_is_final(error, is_final):
    """RFC 5321 4.2.1: 4yz may be tried again, 5yz should not; a wrong password is ours to mend."""
    assert is_permanent(error) is is_final


def test_a_message_that_kills_each_worker_is_given_up(order):
    now = LATER
    for _ in range(outbox.LAST_ATTEMPT):
        outbox.claim(now)
        now += timedelta(hours=1)
    assert deliver_next(now)
    message = Message.objects.get()
    assert message.state == "failed"
    assert "died" in message.last_error
    assert mail.outbox == []


# Quiet hours


@pytest.mark.parametrize(
    ("now", "ends"),
    [
        ("2026-06-01T18:59", None),
        ("2026-06-01T19:00", "2026-06-02T07:00"),
        ("2026-06-02T03:00", "2026-06-02T07:00"),
        ("2026-06-02T07:00", None),
        ("2026-03-28T23:00", "2026-03-29T07:00"),  # the clocks go forward in this night
        ("2026-10-24T23:00", "2026-10-25T07:00"),  # and back in this one
    ],
)
def test_quiet_hours_run_past_midnight_by_the_clock_on_the_wall(now, ends):
    at = datetime.fromisoformat(now).replace(tzinfo=LONDON)
    expected = datetime.fromisoformat(ends).replace(tzinfo=LONDON) if ends else None
    assert quiet_until(at.astimezone(UTC), LONDON, time(19), time(7)) == expected


def test_quiet_hours_within_a_day_and_none():
    noon = datetime(2026, 6, 1, 12, tzinfo=LONDON)
    assert quiet_until(noon, LONDON, time(11), time(13)) == noon + timedelta(hours=1)
    assert quiet_until(noon, LONDON, time(11), time(11)) is None


def test_quiet_hours_that_end_in_an_hour_the_clock_shows_twice_end_ahead():
    second_half_past_one = datetime(2026, 10, 25, 1, 15, tzinfo=LONDON, fold=1)
    ends = quiet_until(second_half_past_one, LONDON, time(23), time(1, 30))
    assert ends > second_half_past_one.astimezone(UTC)


def test_mail_in_the_readers_night_waits_for_the_morning_and_comes_once(order, world):
    MailPreference.objects.create(
        person=world.technician, time_zone="Asia/Tokyo", quiet_from=time(19), quiet_until=time(7)
    )
    assert send() == []  # 21:02 in Tokyo
    message = Message.objects.get()
    morning = datetime(2026, 6, 2, 7, tzinfo=ZoneInfo("Asia/Tokyo"))
    assert (message.state, message.not_before, message.attempts) == ("pending", morning, 0)
    assert len(send(morning)) == 1


# Being told no more


def unsubscribe_address(sent) -> str:
    link = sent.extra_headers["List-Unsubscribe"].strip("<>")
    return link.partition("//")[2].partition("/")[2]


def test_one_click_ends_this_kind_and_no_other(order, world, client, settings):
    settings.PUBLIC_URL = "https://book.averhythe.example"
    (sent,) = send()
    assert sent.extra_headers["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"  # RFC 8058
    address = f"/{unsubscribe_address(sent)}"
    response = client.post(address, {"List-Unsubscribe": "One-Click"})
    assert response.status_code == 200
    preference = MailPreference.objects.get(person=world.technician)
    assert (preference.wants_assignment, preference.wants_digest) == (False, True)


def test_over_plain_http_no_one_click_is_offered(order):
    """RFC 8058 3.1 asks for an https address."""
    (sent,) = send()
    assert "List-Unsubscribe" in sent.extra_headers
    assert "List-Unsubscribe-Post" not in sent.extra_headers


def test_a_scanner_that_follows_the_link_changes_nothing(order, world, client):
    (sent,) = send()
    response = client.get(f"/{unsubscribe_address(sent)}")
    assert "Stop this mail" in response.text
    assert not MailPreference.objects.exists()


def test_a_link_that_was_tampered_with_is_not_ours(client, world):
    link = unsubscribe_link(world.owner, "digest")
    path = "/" + link.partition("//")[2].partition("/")[2]
    assert client.post(path[:-3] + "x/").status_code == 404


def test_a_kind_that_is_not_wanted_is_dropped_and_the_rest_sent(order, world):
    MailPreference.objects.create(person=world.technician, wants_assignment=False)
    assert send() == []
    assert state_of(world.technician) == ["dropped"]


def test_the_page_keeps_what_was_chosen(client, world):
    client.force_login(world.owner)
    address = reverse("scheduling:messages")
    assert "Europe/London" in client.get(address).text
    answers = {
        "wants_digest": "on", "quiet_from": "19:00", "quiet_until": "07:00",
        "time_zone": "America/Chicago",
    }  # fmt: skip
    assert client.post(address, answers).status_code == 302
    preference = MailPreference.objects.get(person=world.owner)
    assert (preference.wants_assignment, preference.wants_digest) == (False, True)
    assert (preference.quiet_from, preference.time_zone) == (time(19), "America/Chicago")


@pytest.mark.parametrize(
    ("answers", "complaint"),
    [
        ({"quiet_from": "19:00"}, "Give both ends of the quiet hours, or neither."),
        ({"quiet_from": "7:00", "quiet_until": "7:00"}, "leave both empty"),
        ({"time_zone": "Averhythe/Harbour"}, "is not a time zone of the IANA list"),
    ],
)
def test_what_cannot_be_is_said_at_the_field(client, world, answers, complaint):
    client.force_login(world.owner)
    response = client.post(reverse("scheduling:messages"), {"time_zone": "UTC"} | answers)
    assert complaint in response.text
    assert not MailPreference.objects.exists()


def test_a_person_without_any_site_still_has_a_page(client, db):
    person = make_user()
    assert not Membership.objects.filter(user=person).exists()
    client.force_login(person)
    assert 'value="UTC"' in client.get(reverse("scheduling:messages")).text
