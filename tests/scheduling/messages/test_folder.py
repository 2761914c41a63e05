"""Without a mail server mail is files: whole, read by whom it is for, and safe beside rubbish."""

import pytest
from django.core.mail import EmailMultiAlternatives
from django.urls import reverse

from scheduling.messages import folder

pytestmark = pytest.mark.django_db


@pytest.fixture
def outbox(settings, tmp_path):
    settings.EMAIL_BACKEND = "scheduling.messages.folder.FolderBackend"
    settings.EMAIL_FOLDER = tmp_path / "outbox"
    return settings.EMAIL_FOLDER


def send(person, subject="A follow-up has come"):
    mail = EmailMultiAlternatives(
        subject, "Re-inerting order, NQ-101 – Ø 100 mm", to=[person.email]
    )
    mail.attach_alternative("<p>Re-inerting order</p>", "text/html")
    assert mail.send() == 1


def page(client, person, name=None):
    client.force_login(person)
    address = reverse("scheduling:outbox") if name is None else None
    return client.get(address or reverse("scheduling:outbox-mail", args=[name]))


def test_a_mail_is_one_file_and_is_read_on_the_page(client, outbox, technician):
    send(technician)
    (path,) = outbox.iterdir()
    assert "A follow-up has come" in page(client, technician).text
    shown = page(client, technician, path.stem)
    assert "Re-inerting order, NQ-101 – Ø 100 mm" in shown.text


def test_people_see_their_own_and_the_keeper_everybodys(client, outbox, world):
    send(world.technician)
    (path,) = outbox.iterdir()
    assert "A follow-up" not in page(client, world.owner).text
    assert page(client, world.owner, path.stem).status_code == 404
    type(world.owner).objects.filter(pk=world.owner.pk).update(is_staff=True)
    assert "A follow-up" in page(client, world.owner).text


def test_rubbish_in_the_folder_is_passed_over(client, outbox, technician):
    send(technician)
    (outbox / "empty.eml").write_bytes(b"")
    (outbox / "noise.eml").write_bytes(bytes(range(256)) * 40)
    (outbox / "folder.eml").mkdir()
    (outbox / ".half-written").write_text("To:")
    shown = page(client, technician)
    assert shown.text.count("A follow-up has come") == 1
    assert page(client, technician, "noise").status_code == 404


def test_the_oldest_go(outbox, technician, monkeypatch):
    monkeypatch.setattr(folder, "MOST", 2)
    for subject in ("one", "two", "three"):
        send(technician, subject)
    assert [mail.subject for mail in folder.mails_to(technician, 9)] == ["three", "two"]


def test_with_a_mail_server_the_page_says_so(client, technician):
    assert "sends its mail by a mail server" in page(client, technician).text


def test_ones_messages_lead_to_the_outbox_where_there_is_one(client, technician, outbox):
    client.force_login(technician)
    assert reverse("scheduling:outbox") in client.get(reverse("scheduling:messages")).text
