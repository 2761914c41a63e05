"""A person decides what mail comes and when: on the page, and from the foot of a mail."""

import re
from datetime import time

import pytest
from django.core import mail
from django.utils import timezone

from scheduling.messages.outbox import GATHERING
from scheduling.messages.sending import send_due
from scheduling.models import MailPreference
from tests.browser.conftest import PHONE
from tests.scheduling.orders_world import make_order

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
LINK = re.compile(r"https?://[^/\s]+(/unsubscribe/\S+)")


def test_quiet_hours_are_set_and_a_mails_own_link_ends_mail_of_its_kind(open_page, world, system):
    technician, now = world.technician, timezone.now()
    make_order(system, now=now)
    send_due(lambda: now + GATHERING)
    told = next(sent for sent in mail.outbox if sent.to == [technician.email])

    page = open_page(technician)
    page.goto("/messages/")
    page.get_by_label("Quiet from").fill("22:00")
    page.get_by_role("button", name="Save").click()
    page.get_by_text("Give both ends of the quiet hours").first.wait_for()
    page.get_by_label("Quiet until").fill("06:30")
    page.get_by_role("button", name="Save").click()
    page.get_by_text("Saved.").wait_for()
    assert page.get_by_label("Quiet from").input_value() == "22:00"

    elsewhere = open_page(size=PHONE)  # nobody is signed in where mail is read
    elsewhere.goto(LINK.search(told.body)[1])
    assert MailPreference.of(technician).wants_assignment
    elsewhere.get_by_role("button", name="Stop this mail").click()
    elsewhere.get_by_text("Mail of this kind is stopped").wait_for()

    kept = MailPreference.of(technician)
    assert (kept.quiet_from, kept.quiet_until) == (time(22), time(6, 30))
    assert (kept.wants_assignment, kept.wants_escalation) == (False, True)
