from datetime import date

import pytest
from django.urls import reverse

from registry.models import Building, ServiceContract, Site
from tests.factories import make_organisation, make_system
from tests.html import one_line
from tests.queries import queries_of

TYPED = {
    "name": "South Mole",
    "address": "2 Mole Road",
    "time_zone": "America/Chicago",
    "altitude_m": "5280 ft",
    "water_temperature_k": "10 °C",
    "measured_dissolved_oxygen_mg_l": "8.5",
}


def test_the_site_page_lists_its_systems_and_who_serves_it(client, system, technician):
    client.force_login(technician)
    page = client.get(system.site.get_absolute_url()).content.decode()
    assert "NQ-101" in page
    assert "Aerated" in page
    assert "Pellmoor Fire Protection" in page
    assert reverse("registry:site-edit", args=[system.site_id]) not in page


def test_the_site_page_leads_a_manager_to_what_the_site_still_lacks(client, owner, world):
    bare = world.owner_organisation.sites.create(name="Tar Wharf", time_zone="Europe/London")
    client.force_login(owner)
    page = client.get(bare.get_absolute_url()).content.decode()
    assert reverse("registry:contract-new", args=[bare.pk]) in page
    assert reverse("registry:building-new", args=[bare.pk]) in page


def test_the_site_page_costs_as_many_queries_for_many_systems(client, site, owner):
    client.force_login(owner)
    url = site.get_absolute_url()
    make_system(site, owner)
    few = queries_of(client, url)
    for _ in range(5):
        make_system(site, owner)
    assert queries_of(client, url) == few


def test_a_new_site_begins_in_the_usual_zone_and_asks_how_high_it_lies(client, site, owner):
    site.time_zone = "Australia/Perth"
    site.save()
    client.force_login(owner)
    form = client.get(reverse("registry:site-new")).context["form"]
    assert form["time_zone"].value() == "Australia/Perth"
    assert not form["altitude_m"].value()
    refused = client.post(reverse("registry:site-new"), TYPED | {"altitude_m": ""})
    assert refused.context["form"].errors["altitude_m"] == [
        "Nothing is written here yet: for example 5280 ft."
    ]


def test_a_manager_enters_a_site_in_any_units(client, world, owner):
    client.force_login(owner)
    response = client.post(reverse("registry:site-new"), TYPED)
    site = Site.objects.get(name="South Mole")
    assert response.url == site.get_absolute_url()
    assert site.owner == world.owner_organisation
    assert site.altitude_m == pytest.approx(5280 * 0.3048)
    assert site.water_temperature_k == pytest.approx(283.15)
    assert site.measured_dissolved_oxygen_mg_l == 8.5


@pytest.mark.parametrize(
    ("changed", "field", "problem"),
    [
        ({"name": "North Quay"}, "name", "already has a site"),
        ({"time_zone": "Averhythe/Harbour"}, "time_zone", "not one of the available choices"),
        ({"altitude_m": "high"}, "altitude_m", "“high”"),
        ({"water_temperature_k": "120 °F"}, "water_temperature_k", "at most 104 °F"),
    ],
)
def test_a_site_that_cannot_be_is_refused_and_kept(client, owner, changed, field, problem):
    client.force_login(owner)
    response = client.post(reverse("registry:site-new"), TYPED | changed)
    assert problem in response.context["form"].errors[field][0]
    assert "2 Mole Road" in response.content.decode()
    assert not Site.objects.filter(address="2 Mole Road").exists()


def test_an_edit_keeps_the_name_in_the_heading_while_it_is_refused(client, site, owner):
    client.force_login(owner)
    response = client.post(
        reverse("registry:site-edit", args=[site.pk]), TYPED | {"altitude_m": "high"}
    )
    assert "<h1> Edit North Quay </h1>" in one_line(response)
    assert 'value="South Mole"' in response.content.decode()


def test_what_another_manager_changed_meanwhile_is_not_overwritten_unread(client, site, owner):
    client.force_login(owner)
    url = reverse("registry:site-edit", args=[site.pk])
    form = client.get(url).context["form"]
    opened = {field.name: field.value() or "" for field in form}
    client.post(url, opened | {"name": "North Quay, inner basin"})
    refused = client.post(url, opened | {"address": "2 Quay Road"})
    assert "Somebody changed this site" in refused.content.decode()
    site.refresh_from_db()
    assert (site.name, site.address) == ("North Quay, inner basin", "1 Quay Road")
    again = {field.name: field.value() or "" for field in refused.context["form"]}
    assert client.post(url, again).status_code == 302
    site.refresh_from_db()
    assert (site.name, site.address) == ("North Quay", "2 Quay Road")


def test_an_edit_is_saved(client, site, owner):
    client.force_login(owner)
    client.post(reverse("registry:site-edit", args=[site.pk]), TYPED)
    site.refresh_from_db()
    assert (site.name, site.time_zone) == ("South Mole", "America/Chicago")


@pytest.mark.parametrize(
    ("person", "status"), [("technician", 403), ("viewer", 403), ("stranger", 404)]
)
@pytest.mark.parametrize("name", ["site-edit", "building-new", "contract-new", "system-new"])
def test_only_a_manager_of_the_owner_changes_a_site(client, world, site, person, status, name):
    client.force_login(getattr(world, person))
    assert client.post(reverse(f"registry:{name}", args=[site.pk]), TYPED).status_code == status


def test_a_contractor_cannot_enter_a_site(client, technician):
    client.force_login(technician)
    assert client.get(reverse("registry:site-new")).status_code == 403


def test_a_building_is_added_once(client, site, owner):
    client.force_login(owner)
    url = reverse("registry:building-new", args=[site.pk])
    client.post(url, {"name": "Shed 4", "access_note": "Key at the gate"})
    assert site.buildings.get().access_note == "Key at the gate"
    response = client.post(url, {"name": "Shed 4"})
    assert "already has a building “Shed 4”" in response.context["form"].errors["name"][0]


def test_a_building_of_another_site_is_not_found(client, world, site, owner):
    theirs = Building.objects.create(site=world.other_site, name="Store")
    client.force_login(owner)
    url = reverse("registry:building-edit", args=[site.pk, theirs.pk])
    assert client.post(url, {"name": "Mine now"}).status_code == 404


def test_ending_a_contract_ends_the_contractors_access(client, site, owner, technician):
    contract = site.service_contracts.get()
    url = reverse("registry:contract-edit", args=[site.pk, contract.pk])
    data = {"contractor": contract.contractor_id, "starts_on": "2020-01-01"}
    client.force_login(technician)
    assert client.get(site.get_absolute_url()).status_code == 200
    client.force_login(owner)
    client.post(url, data | {"ends_on": "2021-12-31"})
    client.force_login(technician)
    assert client.get(site.get_absolute_url()).status_code == 404


def test_a_contract_is_given_to_contractors_and_runs_forward(client, site, owner):
    other = make_organisation("contractor", "Dunlore Sprinkler Services")
    not_one = make_organisation("auditor", "Orvane Inspectors")
    ServiceContract.objects.create(  # the owner knows it: it served once
        site=site, contractor=other, starts_on=date(2019, 1, 1), ends_on=date(2019, 6, 30)
    )
    client.force_login(owner)
    url = reverse("registry:contract-new", args=[site.pk])
    backwards = {"contractor": other.pk, "starts_on": "2026-02-01", "ends_on": "2026-01-01"}
    errors = client.post(url, backwards).context["form"].errors
    assert "begins on 1 February 2026" in errors["ends_on"][0]
    assert (
        "contractor"
        in client.post(url, backwards | {"contractor": not_one.pk}).context["form"].errors
    )
    client.post(url, backwards | {"ends_on": ""})
    contract = ServiceContract.objects.get(contractor=other, starts_on=date(2026, 2, 1))
    assert (contract.site, contract.ends_on) == (site, None)
