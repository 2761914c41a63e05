"""What somebody who means harm, or only hurries, sends to the pages behind the code of a sign."""

from time import process_time
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from registry.models import Organisation, SignUse, System, Telling
from registry.photos.place import without_place
from registry.riser_sign.limits import TELLS
from registry.services import add_fitting
from registry.services.riser_signs import end_signs, put_up
from registry.services.sign_settings import save_settings
from registry.services.telling import dismiss, open_tellings
from registry.views import at_sign
from scheduling.models import Message, Task
from tests.factories import NOW, PSI, make_organisation, make_pipe_run, make_system
from tests.registry.sign_world import hang_sign, told
from tests.scheduling.ledger import DAY, accept
from tests.scheduling.recurring_world import JPEG

pytestmark = pytest.mark.django_db
TURNS_TEXT = "\u202e"


@pytest.fixture
def system(world):
    system = make_system(
        world.site, world.owner, now=NOW - 20 * DAY, tag="NQ-9", service_pressure_gauge_pa=95 * PSI
    )
    accept(system, NOW - 10 * DAY)
    return system


@pytest.fixture
def made(system, world):
    return hang_sign(system, world.owner)


def address(made, page="at-sign", query=""):
    return reverse(f"registry:{page}", args=[made.secret]) + query


def send(client, made, what="leak", **said):
    data = {"happened": "now", "client_key": str(uuid4()), **said}
    return client.post(address(made, "at-sign-tell", f"?what={what}"), data)


@pytest.mark.parametrize("length", ["abc", "-1", "1e9", "9" * 5000])
def test_a_length_that_is_no_number_is_no_fault_of_the_server(client, made, length):
    at = address(made, "at-sign-tell", "?what=leak")
    assert client.post(at, {"happened": "now"}, CONTENT_LENGTH=length).status_code < 500


@pytest.mark.parametrize(
    "query",
    [
        "?gauge=nan", "?gauge=inf", "?gauge=-0", "?gauge=1e400", "?gauge=%00",
        "?gauge=9&unit=mmHg", "?gauge=" + "9" * 5000, "?lang=%00", "?lang=../es",
    ],
)  # fmt: skip
def test_odd_numbers_and_languages_never_make_a_set_point_of_nonsense(client, made, query):
    response = client.get(address(made, "at-sign-drain", query))
    assert response.status_code == 200
    assert "nan" not in response.content.decode().split('id="set-point"')[1][:400]


@pytest.mark.parametrize(
    "words",
    [
        "漏水，三楼", "تسرب في الطابق", "दूसरी मंज़िल", "🔥" * 400, "e\u0301" * 300,
        "<script>alert(1)</script>", "{{ system }}", "'; DROP TABLE x; --",
    ],
)  # fmt: skip
def test_any_script_is_kept_and_shown_as_text(client, made, system, world, words):
    assert send(client, made, words=words, contact=words[:100]).status_code == 302
    client.force_login(world.owner)
    page = client.get(reverse("registry:told", args=[system.pk]))
    assert page.status_code == 200
    assert "<script>alert" not in page.content.decode()


def test_a_null_character_is_refused_and_nothing_is_kept(client, made):
    assert send(client, made, words="a\x00b").status_code == 422
    assert not Telling.objects.exists()


@pytest.mark.parametrize("sign", [TURNS_TEXT, "\x1b[2J"], ids=["turns", "steers"])
@pytest.mark.parametrize("field", ["words", "contact"])
def test_text_that_turns_the_line_round_or_steers_a_terminal_is_refused(client, made, field, sign):
    """And what else was typed stays on the page."""
    typed = {"words": "Bay 4", "contact": "Pat"}
    answer = send(client, made, **(typed | {field: f"Bay {sign}4"}))
    assert answer.status_code == 422
    page = answer.content.decode()
    assert f"U+{ord(sign[0]):04X}" in page
    kept = "Pat" if field == "words" else "Bay 4"
    assert kept in page
    assert not Telling.objects.exists()


def test_other_words_under_the_same_key_are_told_too(client, made, system):
    """A page that a phone brings back has its key still; what was changed on it is not lost."""
    key = str(uuid4())
    first = send(client, made, client_key=key, words="Bay 4")
    again = send(client, made, client_key=key, words="Bay 4")
    other = send(client, made, client_key=key, words="Bay 5, and it is a fire")
    assert first["Location"] == again["Location"] != other["Location"]
    assert set(Telling.objects.values_list("words", flat=True)) == {
        "Bay 4", "Bay 5, and it is a fire",
    }  # fmt: skip
    send(client, made, "fire", client_key=key, words="Bay 4")
    send(client, made, "fire", client_key=key, words="Bay 4")
    assert Telling.objects.count() == 3


@pytest.mark.parametrize(
    "name, hostile",
    [
        ("tags", b"<exif:GPSa" * 60_000),
        ("one long tag", b"<exif:GPS" + b"a" * 600_000),
        ("blocks", b"Exif\x00\x00II*\x00\x08\x00\x00\x00\xc8\x00" * 20_000),
        ("many places", b"Exif\x00\x00II*\x00\x08\x00\x00\x00\xc8\x00"
         + b"\x25\x88\x04\x00\x01\x00\x00\x00\x08\x00\x00\x00" * 200 + b"\x01" * 500_000),
    ],
)  # fmt: skip
def test_a_photo_made_to_keep_the_server_busy_does_not(name, hostile):
    begun = process_time()
    without_place(b"\xff\xd8\xff\xe1" + hostile)
    assert process_time() - begun < 1.5, name


def test_machines_of_one_network_are_counted_as_one(made):
    """Whoever has one IPv6 address has 2^64 of them."""
    for number in range(TELLS.of_machine):
        assert send(Client(REMOTE_ADDR=f"2001:db8:1:2::{number + 1:x}"), made).status_code == 302
    assert send(Client(REMOTE_ADDR="2001:db8:1:2:ffff::9"), made).status_code == 429
    assert send(Client(REMOTE_ADDR="2001:db8:1:3::1"), made).status_code == 302


def test_fifty_tellings_in_an_hour_are_twenty_and_one_question(made, system, world):
    answers = [
        send(Client(REMOTE_ADDR=f"198.51.100.{number}"), made).status_code for number in range(50)
    ]
    assert answers.count(302) == TELLS.of_sign and answers.count(429) == 50 - TELLS.of_sign
    task = Task.objects.open().get(system=system, rule="told")
    assert Message.objects.filter(task=task, person=world.owner).count() == 1
    assert SignUse.objects.filter(key__startswith="tell").exists()


def test_what_was_dismissed_and_is_told_again_is_a_question_again(made, system, world):
    told(made.sign, now=NOW)
    dismiss(records=list(open_tellings(system)), reason="A drill.", by=world.owner, now=NOW)
    assert not Task.objects.open().filter(system=system, rule="told").exists()
    told(made.sign, now=NOW)
    task = Task.objects.open().get(system=system, rule="told")
    assert Message.objects.filter(task=task, person=world.owner).exists()


def test_a_contractor_without_people_leaves_it_to_the_owner(made, system, world):
    empty = make_organisation("contractor", "Fenway Sprinklers")
    world.site.service_contracts.update(contractor=empty)
    told(made.sign, now=NOW)
    task = Task.objects.open().get(system=system, rule="told")
    assert set(Message.objects.filter(task=task).values_list("person", flat=True)) == {
        world.owner.pk
    }


def test_after_the_contract_the_contractor_sees_no_more(client, made, system, world):
    world.site.service_contracts.update(ends_on=(NOW - 2 * DAY).date())
    told(made.sign, now=NOW, words="Bay 4")
    client.force_login(world.technician)
    assert client.get(reverse("registry:told", args=[system.pk])).status_code in (403, 404)
    assert "No contractor is in the register" in client.get(address(made)).content.decode()


def test_after_the_contract_the_owner_alone_is_told(made, system, world):
    world.site.service_contracts.update(ends_on=(NOW - 2 * DAY).date())
    before = set(Message.objects.values_list("pk", flat=True))
    told(made.sign, now=NOW)
    of_it = Message.objects.exclude(pk__in=before)
    heard = set(of_it.values_list("person__email", flat=True))
    assert world.owner.email in heard
    assert world.technician.email not in heard


def test_no_gas_is_let_into_pipe_that_may_not_hold_it(client, made, system, world):
    """CPVC was put in after the sign was printed: the page stops saying how, the wall is old."""
    put_up(sign=made.sign, by=world.owner, now=NOW)
    make_pipe_run(
        system, world.owner, material="cpvc", schedule="SDR 13.5", nominal_size="2", length_m=5.0
    )
    drain = client.get(address(made, "at-sign-drain")).content.decode()
    assert "Set the regulator" not in drain and "CPVC" in drain
    assert (
        "Set the regulator"
        not in client.get(address(made, "at-sign-drain", "?gauge=60")).content.decode()
    )
    assert send(client, made).status_code == 302
    client.force_login(world.owner)
    page = client.get(system.get_absolute_url()).content.decode()
    assert "The sign on the wall is out of date" in page


def test_the_fifty_first_answered_telling_can_still_be_erased(client, made, system, world):
    oldest = told(made.sign, now=NOW - DAY, words="The oldest words")
    for number in range(51):
        told(made.sign, now=NOW, words=f"Words {number}")
    dismiss(records=list(open_tellings(system)), reason="A drill.", by=world.owner, now=NOW)
    client.force_login(world.owner)
    page = client.get(reverse("registry:told", args=[system.pk])).content.decode()
    assert reverse("registry:told-erase", args=[oldest.pk]) in page


def test_a_code_that_ends_while_somebody_types_takes_nothing(client, made, system, monkeypatch):
    real = at_sign.find_sign

    def ends_after(secret):
        found = real(secret)
        end_signs(system=system, now=NOW)
        return found

    monkeypatch.setattr(at_sign, "find_sign", ends_after)
    assert send(client, made).status_code == 422
    assert not Telling.objects.exists()


def test_an_erased_photo_is_a_gap_in_the_list_and_no_broken_picture(client, made, system, world):
    telling = told(made.sign, now=NOW, photos=[SimpleUploadedFile("a.jpg", JPEG)])
    client.force_login(world.owner)
    client.post(reverse("registry:told-erase", args=[telling.pk]))
    page = client.get(telling.record.get_absolute_url()).content.decode()
    assert "<img" not in page.split('id="files"')[1].split("</section>")[0]
    assert "Erased on" in page.split('id="files"')[1]


FACTS = {
    "tag": lambda system, world: System.objects.filter(pk=system.pk).update(tag="NQ-77"),
    "rated": lambda system, world: System.objects.filter(pk=system.pk).update(
        rated_pressure_gauge_pa=150 * PSI
    ),
    "kind": lambda system, world: System.objects.filter(pk=system.pk).update(kind="dry"),
    "owner": lambda system, world: Organisation.objects.filter(
        pk=world.owner_organisation.pk
    ).update(name="Harrow Mills"),
    "site": lambda system, world: type(world.site).objects.filter(pk=world.site.pk).update(
        name="Another place"
    ),
    "contractor": lambda system, world: world.site.service_contracts.update(
        contractor=make_organisation("contractor", "Fenway Sprinklers")
    ),
    "contract": lambda system, world: world.site.service_contracts.update(
        ends_on=(NOW - DAY).date()
    ),
    "owner's number": lambda system, world: save_settings(
        site=world.site, now=NOW, owner_telephone="+1 555 0199"
    ),
    **{
        kind: lambda system, world, kind=kind: add_fitting(
            system=system, recorded_by=world.owner, now=NOW, kind=kind, label="X-1"
        )
        for kind in (
            "injection_port", "control_valve", "main_drain", "auxiliary_drain", "low_point_drain",
        )
    },
}  # fmt: skip


@pytest.mark.parametrize("fact", FACTS)
def test_each_fact_that_the_sign_prints_makes_the_wall_out_of_date(
    client, made, system, world, fact
):
    put_up(sign=made.sign, by=world.owner, now=NOW)
    client.force_login(world.owner)
    page = system.get_absolute_url()
    assert "out of date" not in client.get(page).content.decode()
    FACTS[fact](system, world)
    assert "The sign on the wall is out of date" in client.get(page).content.decode()
