"""The pages behind the code of a sign: what they show, what they refuse, how often."""

from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from registry.models import OwnerRecord, SignSettings, SignUse, Telling
from registry.riser_sign.limits import GUESSES, LOOKS, TELLS
from registry.services import add_fitting
from registry.services.owner_ledger import begin_ledger
from registry.services.riser_signs import end_signs, put_up
from registry.services.sign_settings import save_settings
from registry.verifying.owner import check_owner
from tests.factories import NOW, make_organisation, make_record, make_system
from tests.registry.sign_world import hang_sign, told
from tests.scheduling.ledger import DAY, accept
from tests.scheduling.recurring_world import JPEG

pytestmark = pytest.mark.django_db
PAGES = ("at-sign", "at-sign-drain", "at-sign-tell")


@pytest.fixture
def system(world):
    system = make_system(world.site, world.owner, now=NOW - 20 * DAY, tag="NQ-9")
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


@pytest.mark.parametrize("page", PAGES)
def test_a_page_is_kept_nowhere_and_leaves_no_trace_of_its_address(client, made, page):
    response = client.get(address(made, page))
    assert response.status_code == 200
    assert "no-store" in response["Cache-Control"]
    assert response["Referrer-Policy"] == "same-origin"
    assert "noindex" in response["X-Robots-Tag"]


def test_nothing_is_shown_but_what_is_on_the_sign(client, made, system, world):
    save_settings(site=world.site, now=NOW, languages="en es", owner_telephone="+1 555 0100")
    make_record(system, "event.observation", NOW - DAY, world.owner, text="Hidden remark")
    told(made.sign, words="Somebody's words", contact="Pat")
    make_system(world.site, world.owner, tag="NQ-OTHER")
    for page in PAGES:
        shown = client.get(address(made, page)).content.decode()
        for hidden in ("Hidden remark", "Somebody", "Pat", "NQ-OTHER", "In doubt", "Inert",
                       world.owner.email, "/systems/", "/records/"):  # fmt: skip
            assert hidden not in shown


@pytest.mark.parametrize("page", PAGES)
def test_another_address_shows_nothing(client, page, made):
    response = client.get(reverse(f"registry:{page}", args=["not-the-secret"]))
    assert response.status_code == 404
    assert "no-store" in response["Cache-Control"]
    end_signs(system=made.sign.system, now=NOW)
    assert client.get(address(made, page)).status_code == 404


def test_a_new_sign_that_is_up_ends_the_code_of_the_old_one(client, made, system, world):
    newer = hang_sign(system, world.owner)
    assert client.get(address(made)).status_code == 200  # until somebody hangs the new one
    put_up(sign=newer.sign, by=world.owner, now=NOW)
    assert client.get(address(made)).status_code == 404
    assert client.get(address(newer)).status_code == 200


def test_a_code_of_one_system_tells_nothing_of_another(client, made, world, system):
    other = make_system(world.site, world.owner, now=NOW - 20 * DAY, tag="NQ-10")
    accept(other, NOW - 10 * DAY)
    send(client, made)
    assert system.records.filter(kind="event.told").count() == 1
    assert not other.records.filter(kind="event.told").exists()


def test_more_tellings_in_an_hour_than_the_limit_are_refused_and_say_to_call(client, made):
    for _number in range(TELLS.of_machine):
        assert send(client, made).status_code == 302
    refused = send(client, made)
    assert refused.status_code == 429
    assert "Call instead" in refused.content.decode()
    assert Telling.objects.count() == TELLS.of_machine
    elsewhere = Client(REMOTE_ADDR="198.51.100.7")
    for _number in range(TELLS.of_sign - TELLS.of_machine - 1):
        assert send(elsewhere, made).status_code == 302
    assert send(Client(REMOTE_ADDR="198.51.100.8"), made).status_code == 429


def test_guesses_and_looks_are_counted_without_keeping_the_address(client, made):
    for _number in range(GUESSES.of_machine):
        assert client.get("/s/guess/").status_code == 404
    assert client.get("/s/guess/").status_code == 429
    assert client.get(address(made)).status_code == 200
    SignUse.objects.filter(key__startswith="look:sign").update(count=LOOKS.of_sign)
    assert client.get(address(made)).status_code == 429
    assert not SignUse.objects.filter(key__contains="127.0.0.1").exists()


@pytest.mark.parametrize(
    "name, content",
    [("a.pdf", b"%PDF-1.7"), ("a.jpg", b"<html>"), ("a.svg", b"<svg onload='x()'/>")],
)
def test_what_is_no_photo_is_refused_and_what_was_typed_stays(client, made, name, content):
    response = send(client, made, words="Bay 4", photos=SimpleUploadedFile(name, content))
    assert response.status_code == 422
    page = response.content.decode()
    assert "send JPEG, PNG, WebP or HEIC" in page and "Bay 4" in page
    assert not Telling.objects.exists()


def test_an_error_that_no_form_of_ours_words_is_said_in_the_language_of_the_page(
    client, made, world
):
    save_settings(site=world.site, now=NOW, languages="en es")
    long = {"happened": "now", "client_key": str(uuid4()), "words": "x" * 1001}
    for language, said in (
        ("es", "Asegúrese de que este valor tenga"),
        ("en", "Ensure this value"),
    ):
        at = address(made, "at-sign-tell", f"?what=leak&lang={language}")
        assert said in client.post(at, long).content.decode()


def test_the_owner_s_ledger_tells_what_the_signs_of_a_site_said_when(client, world):
    begin_ledger(world.owner_organisation, now=NOW - DAY)
    client.force_login(world.owner)
    at = reverse("reports:riser-sign-settings", args=[world.site.pk])
    sent = {"languages": "en es", "owner_telephone": "+1 555 0100", "contractor_telephone": ""}
    assert client.post(at, sent).status_code == 302
    row = OwnerRecord.objects.filter(subject="sign").get()
    assert row.facts["owner_telephone"] == "+1 555 0100" and row.facts["languages"] == "en es"
    assert row.recorded_by == world.owner
    assert list(check_owner(world.owner_organisation)) == []
    SignSettings.objects.update(owner_telephone="+1 555 0199")
    assert list(check_owner(world.owner_organisation))


def test_a_fourth_photo_is_refused(client, made):
    def photos(count):
        return [SimpleUploadedFile(f"{number}.jpg", JPEG) for number in range(count)]

    assert send(client, made, photos=photos(4)).status_code == 422
    assert send(client, made, photos=photos(3)).status_code == 302


def test_good_photos_are_asked_for_again_where_something_else_is_wrong(client, made):
    photo = SimpleUploadedFile("a.jpg", JPEG)
    page = send(client, made, words="x" * 1001, photos=photo).content.decode()
    assert "Choose the photos again" in page
    assert "Choose the photos again" not in send(client, made, words="x" * 1001).content.decode()


def test_what_is_larger_than_photos_can_be_is_refused_unread(client, made):
    at = address(made, "at-sign-tell", "?what=leak")
    response = client.post(at, {"happened": "now"}, CONTENT_LENGTH=str(50 * 1024 * 1024))
    assert response.status_code == 413
    assert not Telling.objects.exists()


def test_a_form_of_another_site_is_refused(made):
    careful = Client(enforce_csrf_checks=True)
    assert send(careful, made).status_code == 403
    careful.get(address(made, "at-sign-tell", "?what=leak"))
    token = careful.cookies["csrftoken"].value
    assert send(careful, made, csrfmiddlewaretoken=token).status_code == 302


def test_thanks_are_only_said_for_what_was_told_here(client, made, system, world):
    response = send(client, made)
    assert "It is written down" in client.get(response["Location"]).content.decode()
    for key in (uuid4(), "1", ""):
        page = client.get(address(made, "at-sign-tell", f"?told={key}")).content.decode()
        assert "It is written down" not in page


def test_a_trip_is_asked_only_of_pipe_that_can_trip(client, made):
    assert "tripped" not in client.get(address(made, "at-sign-tell")).content.decode()
    assert send(client, made, "trip").status_code == 200  # the choices again
    assert not Telling.objects.exists()


@pytest.mark.parametrize(
    "query, said",
    [
        ("?gauge=95&unit=psi", "105 psi"),
        ("?gauge=6,0&unit=bar", "97 psi"),
        ("?gauge=174.5&unit=psi", "There is no room"),
        ("?gauge=3000&unit=psi", "from 0 to 400 psi"),
        ("?gauge=abc&unit=psi", "from 0 to 400 psi"),
    ],
)
def test_the_helper_works_the_set_point_out_or_says_why_not(client, made, query, said):
    shown = client.get(address(made, "at-sign-drain", query)).content.decode()
    assert said in shown.replace("\u00a0", " ")


def test_the_system_page_says_when_the_sign_on_the_wall_is_out_of_date(client, made, system, world):
    client.force_login(world.owner)
    page = system.get_absolute_url()
    assert "Nobody said that a sign is up" in client.get(page).content.decode()
    put_up(sign=made.sign, by=world.owner, now=NOW)
    assert "out of date" not in client.get(page).content.decode()
    add_fitting(system=system, recorded_by=world.owner, now=NOW, kind="main_drain", label="MD-1")
    assert "The sign on the wall is out of date" in client.get(page).content.decode()


@pytest.mark.parametrize("change", ["telephone", "contract", "pressure", "languages"])
def test_each_thing_the_sign_says_makes_it_out_of_date(client, made, system, world, change):
    client.force_login(world.owner)
    put_up(sign=made.sign, by=world.owner, now=NOW)
    if change == "telephone":
        save_settings(site=world.site, now=NOW, owner_telephone="+1 555 0100")
    elif change == "languages":
        save_settings(site=world.site, now=NOW, languages="en es")
    elif change == "contract":
        world.site.service_contracts.all().delete()
    else:
        type(system).objects.filter(pk=system.pk).update(service_pressure_gauge_pa=5e5)
    page = client.get(system.get_absolute_url()).content.decode()
    assert "The sign on the wall is out of date" in page


def test_the_telephone_of_one_contractor_never_stands_beside_the_name_of_another(
    client, made, world
):
    save_settings(site=world.site, now=NOW, contractor_telephone="+1 555 0123")
    assert "+1 555 0123" in client.get(address(made)).content.decode()
    another = make_organisation("contractor", "Fenway Sprinklers")
    world.site.service_contracts.update(contractor=another)
    page = client.get(address(made)).content.decode()
    assert "Fenway Sprinklers" in page and "+1 555 0123" not in page


@pytest.mark.parametrize(
    "facts, why",
    [({"kind": "deluge"}, "stands open"), ({}, "No accepted inerting run")],
)
def test_there_is_no_sign_where_it_would_say_what_nobody_has_seen(client, world, facts, why):
    system = make_system(world.site, world.owner, now=NOW - 20 * DAY, **facts)
    client.force_login(world.owner)
    sign = reverse("reports:riser-sign", args=[system.pk])
    assert why in client.get(sign).content.decode()
    assert client.post(sign, {"paper": "a5"}).status_code == 422
    assert not system.riser_signs.exists()


def test_a_sign_is_printed_once_and_its_secret_is_kept_nowhere(client, system, world):
    client.force_login(world.technician)
    response = client.post(reverse("reports:riser-sign", args=[system.pk]), {"paper": "a4"})
    assert response["Content-Type"] == "application/pdf"
    assert "no-store" in response["Cache-Control"]
    assert system.riser_signs.get().digest not in response.content.decode("latin-1")


def test_erased_words_leave_a_gap_that_is_seen(client, made, system, world):
    telling = told(made.sign, words="Bay 4", contact="Pat Smith")
    client.force_login(world.owner)
    page = reverse("registry:told", args=[system.pk])
    assert "Pat Smith" in client.get(page).content.decode()
    client.post(reverse("registry:told-erase", args=[telling.pk]))
    shown = client.get(page).content.decode()
    assert "Pat Smith" not in shown and "Bay 4" not in shown
    assert "What was typed here was erased on" in shown
