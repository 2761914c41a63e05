"""Planning a run and starting it, through the pages."""

from uuid import uuid4

import pytest
from django.urls import reverse

from registry.models import InertingRun
from tests.factories import make_pipe_run, make_system
from tests.registry.runs_world import answer, do, kinds, plan_url, start
from tests.restoration import RESTORED


def test_the_plan_page_shows_fills_nitrogen_and_cautions(technicians, system):
    page = technicians.get(plan_url(system))
    text = page.content.decode()
    assert page.context["plan"].fills_needed == 3
    assert "Accepted by then" in text
    assert "whole cylinder" in text
    assert "Nitrogen displaces the air people breathe" in text


def test_the_plan_follows_what_is_typed(technicians, system):
    page = technicians.get(plan_url(system), {"fill_pressure_gauge_pa": "60 psi"})
    assert page.context["plan"].fills_needed == 2
    assert "60 psi" in page.content.decode()


def test_a_refusal_names_its_pressures_in_the_units_of_the_reader(client, technician, system):
    technician.display_units = "si"
    technician.save()
    client.force_login(technician)
    typed = {"fill_pressure_gauge_pa": "14 bar"}
    (doubt,) = client.get(plan_url(system), typed).context["form"].doubts
    assert "14 bar" in doubt.text and "psi" not in doubt.text
    kept = typed | {"is_kept": "1", "asked": doubt.asks}
    text = client.get(plan_url(system), kept).content.decode()
    assert "The fill pressure of 14 bar gauge is above the rated working pressure" in text
    assert "component, 12.07 bar gauge" in text


def test_the_plan_starts_from_the_register_and_the_policy(technicians, system):
    form = technicians.get(plan_url(system)).context["form"]
    assert form.cleaned_data["volume_m3"] == pytest.approx(system.volume().m3, rel=1e-3)
    assert form.cleaned_data["target_n2_percent"] == 98
    assert form.cleaned_data["start_n2_percent"] == pytest.approx(79.05)


def test_water_that_must_be_drained_lets_air_in_whatever_the_gas_was(technicians, run, system):
    do(technicians, run, 92.9, "purge", 97.6, "purge", 99.2)
    for token, answers in (
        ("final_purge", {"pressure_gauge_pa": "0 psi"}),
        ("water_filled", {}),
        ("returned", RESTORED),
    ):
        answer(technicians, run, token, **answers)
    form = technicians.get(plan_url(system)).context["form"]
    assert form.cleaned_data["start_n2_percent"] == pytest.approx(79.05)


def test_pipe_left_with_gas_by_a_stopped_run_starts_from_its_reading(technicians, run, system):
    do(technicians, run, 92.9)
    technicians.post(
        reverse("registry:run-stop", args=[run.pk]),
        {"client_key": uuid4(), "reason": "Dark", "left_as": "30 psi nitrogen"},
    )
    form = technicians.get(plan_url(system)).context["form"]
    assert form.cleaned_data["start_n2_percent"] == pytest.approx(92.9, abs=0.2)


def test_pipe_at_the_target_is_offered_a_reading_and_no_run(technicians, system):
    page = technicians.get(plan_url(system), {"start_n2_percent": "98.6 %"})
    assert "At the target already" in page.content.decode()
    assert "Start the run" not in page.content.decode()


def test_a_wrong_quantity_is_named_and_what_was_typed_stays(technicians, system):
    page = technicians.get(plan_url(system), {"fill_pressure_gauge_pa": "30 furlongs"})
    assert page.context["plan"] is None
    assert "30 furlongs" in page.content.decode()
    assert "Write it like 30 psi" in str(page.context["form"].errors)


@pytest.mark.parametrize("name", ["fill_pressure_gauge_pa", "reserve_pressure_gauge_pa"])
def test_a_pressure_no_cylinder_has_is_refused_at_its_field(technicians, system, name):
    page = technicians.get(plan_url(system), {name: "3000 psi"})
    assert page.status_code == 200
    assert "A full cylinder holds less" in str(page.context["form"].errors[name])


def test_a_refused_plan_shows_the_asymptote_and_offers_no_start(technicians, system):
    page = technicians.get(plan_url(system), {"feed_n2_percent": "97 %"})
    text = page.content.decode()
    assert "Not possible at these pressures" in text
    assert "towards 97 %" in text
    assert "Start the run" not in text


def test_a_refused_plan_that_is_posted_all_the_same_starts_nothing(technicians, system):
    assert start(technicians, system, feed_n2_percent="97 %").status_code == 422
    assert not InertingRun.objects.exists()


def test_a_small_room_is_warned_of(technicians, system):
    page = technicians.get(plan_url(system), {"room_volume_m3": "8 m3"})
    assert page.context["plan"].room.is_deficient
    assert "too little to breathe safely" in page.content.decode()


def test_a_room_needs_a_unit_because_gallons_would_be_absurd(technicians, system):
    page = technicians.get(plan_url(system), {"room_volume_m3": "30"})
    assert "the unit is missing" in str(page.context["form"].errors["room_volume_m3"])


def test_a_generator_recovery_is_offered_where_there_is_a_generator(technicians, world):
    dry = make_system(
        world.site, world.owner, kind="dry", gas_supply="generator", supply_n2_percent=99.0
    )
    make_pipe_run(dry, world.owner)
    page = technicians.get(
        plan_url(dry), {"generator_flow_m3_s": "20 scfh", "start_n2_percent": "79.05 %"}
    )
    assert 0 < page.context["recovery_s"] < 60 * 86_400
    assert "sweeping through an open vent" in page.content.decode()


def test_starting_opens_the_run_and_records_it(technicians, system):
    response = start(technicians, system)
    run = InertingRun.objects.get()
    assert response.url == run.get_absolute_url()
    assert kinds(run) == ["started"]
    assert run.plan["fills_needed"] == 3


def test_a_double_start_makes_one_run(technicians, system):
    key = uuid4()
    first = start(technicians, system, client_key=key)
    again = start(technicians, system, client_key=key)
    assert first.url == again.url
    assert InertingRun.objects.count() == 1


def test_a_second_person_is_led_to_the_unfinished_run(run, owners, system):
    page = owners.get(plan_url(system))
    assert page.context["unfinished"] == run
    assert "Start the run" not in page.content.decode()
    assert start(owners, system).url == run.get_absolute_url()


def test_the_calibration_day_comes_from_the_fitted_analyser(technicians, system):
    system.fittings.create(kind="analyser", label="Riser analyser", calibrated_on="2026-01-15")
    start(technicians, system)
    run = InertingRun.objects.get()
    assert (run.analyser, str(run.analyser_calibrated_on)) == ("Riser analyser", "2026-01-15")
