"""From the printed address to a person who keeps a book with one site."""

import pytest
from django.urls import reverse

from registry.first_run.codes import new_code
from registry.first_run.steps import Progress
from registry.models import FirstCode, Membership, Organisation, Site, User
from tests.factories import NOW, make_pipe_run, make_system

pytestmark = pytest.mark.django_db
ANSWERS = {
    "kind": "owner", "owner_name": "Skerrow Cold Stores", "contractor_name": "",
    "display_units": "us", "target_n2_percent": "98.5", "name": "Ines Orvald",
    "email": "Ines@skerrow.example", "password": "nine-quiet-herons",
}  # fmt: skip
SITE = {"name": "Quay Store", "address": "4 Quay Road", "time_zone": "Atlantic/Faroe",
        "altitude_m": "10 m"}  # fmt: skip


@pytest.fixture
def address():
    return reverse("registry:begin", args=[new_code(NOW)])


def test_whoever_opens_the_address_becomes_the_first_manager(client, address):
    assert "Begin your book" in client.get(address).text
    steps = client.post(address, ANSWERS, follow=True)
    assert steps.redirect_chain == [(reverse("registry:first-steps"), 302)]
    assert "This book is empty. Five steps fill it." in steps.text
    owner = Organisation.objects.get()
    assert (owner.name, owner.kind, owner.policy.target_n2_percent) == (
        "Skerrow Cold Stores", "owner", 98.5,
    )  # fmt: skip
    person = User.objects.get()
    assert (person.email, person.is_staff) == ("ines@skerrow.example", True)
    assert client.login(username="ines@skerrow.example", password="nine-quiet-herons")


def test_the_address_opens_an_empty_book_and_no_other(client, address, world):
    assert client.get(address).status_code == 404
    assert client.post(address, ANSWERS).status_code == 404
    assert new_code(NOW) is None
    assert not FirstCode.objects.exists()


def test_it_is_used_up_by_its_first_use_and_by_a_newer_one(client, address):
    newer = reverse("registry:begin", args=[new_code(NOW)])
    assert client.post(address, ANSWERS).status_code == 404
    client.post(newer, ANSWERS)
    assert client.post(newer, ANSWERS | {"email": "two@skerrow.example"}).status_code == 404
    assert User.objects.count() == 1


def test_a_contractor_keeps_the_book_of_an_owner_and_serves_its_sites(client, address):
    client.post(address, ANSWERS | {"kind": "contractor", "contractor_name": "Pellmoor Fire"})
    roles = Membership.objects.values_list("organisation__kind", "role")
    assert sorted(roles) == [("contractor", "manager"), ("owner", "manager")]
    client.post(reverse("registry:first-steps"), SITE)
    contract = Site.objects.get().service_contracts.get()
    assert str(contract.contractor) == "Pellmoor Fire"


@pytest.mark.parametrize(
    ("wrong", "field", "words"),
    [
        ({"kind": "contractor"}, "contractor_name", "name of your company"),
        (
            {"kind": "contractor", "contractor_name": "Skerrow Cold Stores"},
            "contractor_name", "two organisations",
        ),
        ({"password": "password"}, "password", "too common"),
        ({"password": "ines@skerrow.example"}, "password", "similar"),
        ({"target_n2_percent": "20"}, "target_n2_percent", "greater than or equal to 80"),
        ({"email": "nobody"}, "email", "valid email"),
        ({"owner_name": ""}, "owner_name", "Nothing is written"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_said_at_its_field_and_nothing_is_begun(
    client, address, wrong, field, words
):
    page = client.post(address, ANSWERS | wrong)
    assert words in str(page.context["form"].errors[field])
    assert "Ines Orvald" in page.text
    assert not User.objects.exists()
    assert FirstCode.objects.exists()


@pytest.fixture
def begun(client, address):
    client.post(address, ANSWERS)
    return Organisation.objects.get()


def test_the_clock_of_a_site_is_chosen_and_never_assumed(client, begun):
    page = client.post(reverse("registry:first-steps"), SITE | {"time_zone": ""})
    assert "time_zone" in page.context["form"].errors
    assert not Site.objects.exists()


def test_the_steps_show_how_far_the_book_has_come(client, begun):
    steps = reverse("registry:first-steps")
    assert client.get(steps).context["progress"].done == 1
    page = client.post(steps, SITE, follow=True)
    assert page.context["progress"].done == 2
    site = Site.objects.get()
    assert f'href="{reverse("registry:system-new", args=[site.pk])}"' in page.text
    system = make_system(site, User.objects.get(), tag="QS-1")
    page = client.get(steps)
    assert "2 of 5 first steps are done." in page.text
    assert f'href="{reverse("registry:pipe-new", args=[system.pk])}"' in page.text
    make_pipe_run(system, User.objects.get())
    assert Progress.of(begun, NOW).done == 3
    assert "1 system is in the book, with its pipe." in client.get(steps).text


def test_an_empty_portfolio_leads_to_the_steps(client, begun):
    assert f'href="{reverse("registry:first-steps")}"' in client.get("/").text
