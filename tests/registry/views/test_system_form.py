"""Systems and their fittings entered and changed through the pages."""

from datetime import date, timedelta

import pytest
from django.urls import reverse

from registry import services
from registry.models import Fitting, System
from tests.factories import NOW, PSI, make_building, make_record, make_user

DAY = timedelta(days=1)
TYPED = {
    "tag": "NQ-200",
    "building": "",
    "kind": "dry",
    "hazard": "ordinary_1",
    "installed": "1998",
    "design_pressure_gauge_pa": "",
    "rated_pressure_gauge_pa": "175 psi",
    "service_pressure_gauge_pa": "2.76 bar",
    "gas_supply": "generator",
    "supply_n2_percent": "98.5",
    "consequence_class": "4",
    "volume_override_m3": "",
    "volume_override_note": "",
}


def as_shown(form):
    return {name: "" if (value := form[name].value()) is None else value for name in form.fields}


def test_a_manager_enters_a_system(client, site, owner):
    client.force_login(owner)
    building = make_building(site, "Shed 4")
    response = client.post(
        reverse("registry:system-new", args=[site.pk]), TYPED | {"building": building.pk}
    )
    system = System.objects.get(tag="NQ-200")
    assert response.url == system.get_absolute_url()
    assert system.installed_on == date(1998, 1, 1)
    assert system.installed_precision == "year"
    assert system.service_pressure_gauge_pa == pytest.approx(276_000)
    assert system.rated_pressure_gauge_pa == pytest.approx(175 * PSI)
    assert system.building == building
    assert system.records.get().kind == "register.system"


def test_a_tag_is_given_once_at_a_site_and_what_was_typed_stays(client, system, owner):
    client.force_login(owner)
    response = client.post(
        reverse("registry:system-new", args=[system.site_id]),
        TYPED | {"tag": system.tag, "service_pressure_gauge_pa": "loads"},
    )
    errors = response.context["form"].errors
    assert "already has a system “NQ-101”" in errors["tag"][0]
    assert "loads" in errors["service_pressure_gauge_pa"][0]
    assert 'value="loads"' in response.content.decode()
    assert System.objects.count() == 1


@pytest.mark.parametrize(
    ("typed", "problem"),
    [
        ("04/05/1998", "could be two different days"),
        ("last year", "not a day or a year"),
        ("1066", "no sprinkler pipe is of that year"),
        ("0000", "no sprinkler pipe is of that year"),
        ("2150", "is still to come"),
        ("2199-05-17", "is still to come"),
    ],
)
def test_an_installation_day_is_asked_about_and_never_guessed(client, site, owner, typed, problem):
    client.force_login(owner)
    url = reverse("registry:system-new", args=[site.pk])
    response = client.post(url, TYPED | {"installed": typed})
    assert problem in response.context["form"].errors["installed"][0]


def test_saving_the_edit_page_unchanged_writes_nothing_in_the_ledger(client, system, owner):
    client.force_login(owner)
    url = reverse("registry:system-edit", args=[system.pk])
    before = system.records.count()
    response = client.post(url, as_shown(client.get(url).context["form"]))
    assert response.status_code == 302
    assert system.records.count() == before


def test_what_another_manager_changed_meanwhile_is_shown_before_it_is_overwritten(
    client, system, owner
):
    client.force_login(owner)
    url = reverse("registry:system-edit", args=[system.pk])
    opened = as_shown(client.get(url).context["form"])
    other = make_user(system.site.owner, "manager", name="Piet Lowe")
    services.amend_system(
        system=system, recorded_by=other, rated_pressure_gauge_pa=300 * PSI, now=NOW
    )
    response = client.post(url, opened | {"hazard": "extra_1"})
    form = response.context["form"]
    assert form.errors == {
        "rated_pressure_gauge_pa": [
            "Piet Lowe changed this to 300 psi gauge after you opened the page. Write that here to "
            "leave it so, or save again as it stands."
        ]
    }
    assert form["hazard"].value() == "extra_1"
    system.refresh_from_db()
    assert system.hazard == "unknown"
    again = as_shown(form) | {"rated_pressure_gauge_pa": "300 psi"}
    assert client.post(url, again).status_code == 302
    system.refresh_from_db()
    assert (system.hazard, round(system.rated_pressure_gauge_pa / PSI)) == ("extra_1", 300)


def test_saving_again_overwrites_what_the_person_has_now_read(client, system, owner):
    client.force_login(owner)
    url = reverse("registry:system-edit", args=[system.pk])
    opened = as_shown(client.get(url).context["form"])
    other = make_user(system.site.owner, "manager")
    services.amend_system(system=system, recorded_by=other, hazard="extra_2", now=NOW)
    refused = client.post(url, opened | {"hazard": "extra_1"})
    assert "hazard" in refused.context["form"].errors
    assert client.post(url, as_shown(refused.context["form"])).status_code == 302
    system.refresh_from_db()
    assert system.hazard == "extra_1"


def test_a_reading_logged_meanwhile_does_not_hold_an_edit_up(client, system, owner, technician):
    client.force_login(owner)
    url = reverse("registry:system-edit", args=[system.pk])
    opened = as_shown(client.get(url).context["form"])
    make_record(system, "reading.gas", NOW - DAY, technician, n2_percent=98.4)
    assert client.post(url, opened | {"hazard": "extra_1"}).status_code == 302


def test_the_ledger_calls_a_building_by_its_name(system, owner):
    shed = make_building(system.site, name="Shed 4")
    services.amend_system(system=system, recorded_by=owner, building=shed, now=NOW)
    amended = system.records.latest("sequence")
    assert amended.details == {"building": {"from": None, "to": "Shed 4"}}


def test_an_edit_leaves_what_changed_in_the_ledger(client, system, owner):
    client.force_login(owner)
    url = reverse("registry:system-edit", args=[system.pk])
    client.post(url, as_shown(client.get(url).context["form"]) | {"hazard": "extra_1"})
    system.refresh_from_db()
    assert system.hazard == "extra_1"
    amended = system.records.latest("sequence")
    assert amended.kind == "register.amended"
    assert amended.details == {"hazard": {"from": "unknown", "to": "extra_1"}}
    page = client.get(amended.get_absolute_url()).content.decode()
    assert "was not recorded, is now Extra hazard group 1" in page


def test_making_a_system_with_plastic_pipe_gas_filled_is_refused(client, system, owner):
    services.add_pipe_run(
        system=system, recorded_by=owner, role="branch_line", material="cpvc",
        schedule="SDR 13.5", nominal_size="1", length_m=10.0, now=NOW,
    )  # fmt: skip
    client.force_login(owner)
    url = reverse("registry:system-edit", args=[system.pk])
    response = client.post(url, as_shown(client.get(url).context["form"]) | {"kind": "dry"})
    assert "CPVC cannot be in a gas-filled system" in response.content.decode()
    system.refresh_from_db()
    assert system.kind == "wet"


@pytest.mark.parametrize("name", ["system-edit", "pipe-new", "fitting-new"])
@pytest.mark.parametrize(
    ("person", "status"), [("technician", 403), ("viewer", 403), ("stranger", 404)]
)
def test_only_a_manager_changes_the_register(client, world, system, name, person, status):
    client.force_login(getattr(world, person))
    url = reverse(f"registry:{name}", args=[system.pk])
    assert client.post(url, TYPED).status_code == status


def test_a_fitting_is_entered_and_mended(client, system, owner):
    client.force_login(owner)
    new = reverse("registry:fitting-new", args=[system.pk])
    client.post(
        new, {"kind": "vent", "label": "V2", "location": "Bay 12", "fitted_on": "2019-04-01"}
    )
    fitting = Fitting.objects.get()
    assert fitting.system == system
    edit = reverse("registry:fitting-edit", args=[fitting.pk])
    client.post(edit, {"kind": "vent", "label": "V3", "location": "Bay 12"})
    fitting.refresh_from_db()
    assert fitting.label == "V3"
    kinds = system.records.order_by("-sequence").values_list("kind", flat=True)[:2]
    assert list(kinds) == ["register.amended", "register.amended"]


def test_a_fitting_cannot_go_before_it_came(client, system, owner):
    client.force_login(owner)
    response = client.post(
        reverse("registry:fitting-new", args=[system.pk]),
        {"kind": "vent", "fitted_on": "2020-01-01", "removed_on": "2019-01-01"},
    )
    assert "fitted on 1 January 2020" in response.context["form"].errors["removed_on"][0]
    assert not Fitting.objects.exists()


def test_a_manager_says_since_when_leaks_are_known(client, site, owner):
    client.force_login(owner)
    address = reverse("registry:system-new", args=[site.pk])
    tomorrow = (NOW + 9000 * DAY).date().isoformat()
    refused = client.post(address, TYPED | {"leaks_known_since": tomorrow})
    assert "is still to come" in refused.context["form"].errors["leaks_known_since"][0]
    assert f'value="{tomorrow}"' in refused.content.decode()
    client.post(address, TYPED | {"leaks_known_since": "2012-05-01"})
    system = System.objects.get(tag="NQ-200")
    assert system.leaks_known_since == date(2012, 5, 1)
    page = client.get(system.get_absolute_url()).content.decode()
    assert "Leaks known since" in page and "1 May 2012" in page
