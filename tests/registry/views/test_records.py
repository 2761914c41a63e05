from datetime import timedelta

import pytest
from django.urls import reverse

from registry import services
from registry.models import Record, System
from tests.factories import NOW, PSI, make_record, make_site, make_system

DAY = timedelta(days=1)
GOOD_DRAIN = {
    "occurred_at": "2026-05-31T14:30",
    "nitrogen_before_opening": "yes",
    "regulator_above_system": "yes",
    "flow_until_empty": "yes",
    "one_drain_at_a_time": "yes",
    "extent": "whole",
}


def new_url(system, code):
    return reverse("registry:record-new", args=[system.pk, code])


def events(system):
    return system.records.filter(kind__startswith="event.")


def test_the_choice_holds_the_kinds_of_this_system_with_a_line_of_help(client, system, technician):
    client.force_login(technician)
    page = client.get(reverse("registry:record-choose", args=[system.pk])).content.decode()
    assert "Drain-down" in page
    assert "Water was drained" in page
    assert "Valve trip" not in page  # a wet system has no valve to trip


def test_a_technician_logs_an_event_and_the_state_follows(client, system, technician):
    client.force_login(technician)
    response = client.post(new_url(system, "event.drain_down"), GOOD_DRAIN | {"note": "Bay 7"})
    assert response.status_code == 302
    assert response.url == system.get_absolute_url()
    written = events(system).get()
    assert written.recorded_by == technician
    assert written.note == "Bay 7"
    assert written.details["one_drain_at_a_time"] == "yes"
    assert System.objects.with_atmosphere(NOW).get(pk=system.pk).atmosphere_state == "aerated"


def test_the_cautions_of_the_kind_stand_on_its_form(client, system, technician):
    client.force_login(technician)
    page = client.get(new_url(system, "event.drain_down")).content.decode()
    assert "Draining takes the fire protection away" in page
    assert "Nitrogen displaces the air" in page


def test_what_was_typed_survives_a_refusal(client, system, technician):
    client.force_login(technician)
    data = GOOD_DRAIN | {"regulator_gauge_pa": "forty", "note": "Head over bay 7"}
    del data["flow_until_empty"]
    response = client.post(new_url(system, "event.drain_down"), data)
    page = response.content.decode()
    assert response.status_code == 200
    assert not events(system).exists()
    assert 'value="forty"' in page
    assert "Head over bay 7" in page
    assert set(response.context["form"].errors) == {"regulator_gauge_pa", "flow_until_empty"}


def test_what_the_ledger_refuses_stands_at_its_field(client, system, technician):
    client.force_login(technician)
    response = client.post(
        new_url(system, "event.fire"), {"occurred_at": "1999-01-01T10:00", "where": "Bay 3"}
    )
    (error,) = response.context["form"].errors["occurred_at"]
    assert "before the system was installed" in error
    assert 'value="Bay 3"' in response.content.decode()
    assert not events(system).exists()


def test_a_kind_that_cannot_happen_to_the_system_has_no_page(client, system, technician):
    client.force_login(technician)
    assert client.get(new_url(system, "event.trip")).status_code == 404
    assert client.get(new_url(system, "inerting.accepted")).status_code == 404
    assert client.get(new_url(system, "no.such")).status_code == 404


def test_the_same_form_sent_twice_makes_one_record(client, system, technician):
    client.force_login(technician)
    form = client.get(new_url(system, "event.fire")).context["form"]
    data = {"occurred_at": "2026-05-31T14:30", "client_key": str(form["client_key"].value())}
    for _ in range(2):
        assert client.post(new_url(system, "event.fire"), data).status_code == 302
    assert events(system).count() == 1


def test_a_page_gone_back_to_and_sent_with_another_answer_is_not_said_to_be_recorded(
    client, system, technician
):
    client.force_login(technician)
    form = client.get(new_url(system, "event.fire")).context["form"]
    data = {"occurred_at": "2026-05-31T14:30", "client_key": str(form["client_key"].value())}
    client.post(new_url(system, "event.fire"), data)
    response = client.post(new_url(system, "event.fire"), data | {"where": "Bay 4"})
    assert "This page was sent before" in response.content.decode()
    assert events(system).count() == 1
    again = {name: response.context["form"][name].value() for name in (*data, "where")}
    assert client.post(new_url(system, "event.fire"), again).status_code == 302
    assert [record.details.get("where") for record in events(system)] == [None, "Bay 4"]


def test_two_people_who_record_the_same_thing_are_both_kept(client, system, technician, owner):
    for person in (technician, owner):
        client.force_login(person)
        form = client.get(new_url(system, "event.fire")).context["form"]
        data = {"occurred_at": "2026-05-31T14:30", "client_key": str(form["client_key"].value())}
        client.post(new_url(system, "event.fire"), data)
    assert [record.recorded_by for record in events(system)] == [technician, owner]


@pytest.mark.parametrize(
    ("person", "status"), [("viewer", 403), ("auditor", 403), ("stranger", 404)]
)
@pytest.mark.parametrize(
    "address", ["record-choose", "record-new", "record-correct", "record-withdraw"]
)
def test_those_without_the_right_cannot_write(client, world, system, person, status, address):
    record = make_record(system, "event.fire", NOW - DAY)
    arguments = {
        "record-choose": [system.pk],
        "record-new": [system.pk, "event.fire"],
    }.get(address, [record.pk])
    client.force_login(getattr(world, person))
    url = reverse(f"registry:{address}", args=arguments)
    assert client.get(url).status_code == status
    assert (
        client.post(url, {"occurred_at": "2026-05-31T14:30", "reason": "x"}).status_code == status
    )
    assert events(system).count() == 1


def test_a_correction_takes_the_place_of_the_record(client, system, technician):
    record = make_record(system, "reading.gas", NOW - DAY, technician, n2_percent=89.4)
    client.force_login(technician)
    url = reverse("registry:record-correct", args=[record.pk])
    response = client.post(url, {"occurred_at": "2026-05-31T14:30", "n2_percent": "98.4"})
    assert response.url == system.get_absolute_url()
    correction = Record.objects.get(supersedes=record)
    assert correction.details == {"n2_percent": 98.4}
    page = client.get(record.get_absolute_url()).content.decode()
    assert f"number {correction.sequence}" in page
    assert "took its place" in page


def test_correcting_a_corrected_record_says_who_did_and_keeps_what_was_typed(
    client, system, technician, owner
):
    record = make_record(system, "reading.gas", NOW - DAY, technician, n2_percent=89.4)
    services.record(
        system=system, kind="reading.gas", occurred_at=NOW - DAY, details={"n2_percent": 98.4},
        recorded_by=owner, supersedes=record, now=NOW,
    )  # fmt: skip
    client.force_login(technician)
    url = reverse("registry:record-correct", args=[record.pk])
    response = client.post(url, {"occurred_at": "2026-05-31T14:30", "n2_percent": "97.77"})
    page = response.content.decode()
    assert response.status_code == 200
    assert "Olive Manager already" in page
    assert 'value="97.77"' in page
    assert Record.objects.filter(kind="reading.gas").count() == 2


def test_a_record_made_by_the_register_is_not_corrected_by_hand(client, system, owner):
    client.force_login(owner)
    entered = system.records.get(kind="register.system")
    for address in ("record-correct", "record-withdraw"):
        assert client.get(reverse(f"registry:{address}", args=[entered.pk])).status_code == 404


def test_a_withdrawn_record_stays_with_the_reason(client, system, technician):
    record = make_record(system, "event.fire", NOW - DAY, technician)
    client.force_login(technician)
    url = reverse("registry:record-withdraw", args=[record.pk])
    assert client.post(url, {"reason": ""}).status_code == 200
    client.post(url, {"reason": "It was the system next door."})
    assert not system.records.current().filter(kind="event.fire").exists()
    page = client.get(record.get_absolute_url()).content.decode()
    assert "Withdrawn" in page
    assert "It was the system next door." in page


def test_withdrawing_twice_is_refused_with_the_name_of_the_first(client, system, technician, owner):
    record = make_record(system, "event.fire", NOW - DAY, technician)
    services.withdraw(record=record, reason="Mistake", recorded_by=owner, now=NOW)
    client.force_login(technician)
    url = reverse("registry:record-withdraw", args=[record.pk])
    response = client.post(url, {"reason": "Mistake"})
    assert "Olive Manager already" in response.content.decode()
    assert Record.objects.filter(kind="register.withdrawn").count() == 1


def test_only_a_manager_withdraws_a_pipe_run(client, system, technician, owner):
    entered = system.records.get(kind="register.pipe")
    url = reverse("registry:record-withdraw", args=[entered.pk])
    client.force_login(technician)
    assert client.post(url, {"reason": "x"}).status_code == 403
    client.force_login(owner)
    client.post(url, {"reason": "Counted twice"})
    assert not system.pipe_runs.current().exists()


def test_the_page_of_a_record_speaks_the_units_and_the_clock_of_its_reader(client, system, owner):
    record = make_record(system, "reading.pressure", NOW - DAY, owner, pressure_gauge_pa=30 * PSI)
    client.force_login(owner)
    for units, shown in (("us", "30 psi gauge"), ("si", "2.07 bar gauge")):
        owner.display_units = units
        owner.save()
        page = client.get(record.get_absolute_url()).content.decode()
        assert shown in page
    assert "31 May 2026, 13:00 BST" in page
    assert record.hash in page
    assert record.previous_hash in page


def test_buttons_are_shown_only_to_those_who_may_use_them(client, system, technician, viewer):
    record = make_record(system, "event.fire", NOW - DAY)
    correct = reverse("registry:record-correct", args=[record.pk])
    for person, has in ((technician, True), (viewer, False)):
        client.force_login(person)
        page = client.get(record.get_absolute_url()).content.decode()
        assert (correct in page) is has


def test_the_effect_on_the_atmosphere_is_told(client, world, owner):
    system = make_system(make_site(world.owner_organisation), owner)
    reading = make_record(system, "reading.gas", NOW - 2 * DAY, owner, n2_percent=91.0)
    client.force_login(owner)
    page = client.get(reading.get_absolute_url()).content.decode()
    assert "Lowered the oxygen estimate from 20.9 % to 9.0 %" in page


WISH = {"occurred_at": "2026-05-31T14:30", "wanted_by": "2026-08-31"}


def test_a_manager_orders_the_first_inerting_from_the_page_of_the_system(client, system, owner):
    client.force_login(owner)
    address = new_url(system, "request.inerting")
    assert address in client.get(system.get_absolute_url()).content.decode()
    chosen = client.get(reverse("registry:record-choose", args=[system.pk])).content.decode()
    assert "Something is wanted" in chosen and address in chosen
    assert client.post(address, WISH).status_code == 302
    assert system.records.get(kind="request.inerting").details == {"wanted_by": "2026-08-31"}
    page = client.get(system.get_absolute_url()).content.decode()
    assert "First inerting order" in page and address not in page


def test_only_a_manager_of_the_owner_may_want_it_and_take_it_back(
    client, system, owner, technician
):
    wish = make_record(system, "request.inerting", NOW - DAY, owner)
    client.force_login(technician)
    address = new_url(system, "request.inerting")
    for path in (reverse("registry:record-choose", args=[system.pk]), system.get_absolute_url()):
        assert address not in client.get(path).content.decode()
    page = client.get(wish.get_absolute_url()).content.decode()
    for name in ("registry:record-correct", "registry:record-withdraw"):
        path = reverse(name, args=[wish.pk])
        assert path not in page
        assert client.get(path).status_code == 403
        assert client.post(path, WISH | {"reason": "No"}).status_code == 403
    assert client.get(address).status_code == 403
    assert client.post(address, WISH).status_code == 403
    assert system.records.filter(kind__startswith="request.").get() == wish


def test_a_day_before_the_wish_is_refused_and_the_next_is_not(client, system, owner):
    client.force_login(owner)
    address = new_url(system, "request.inerting")
    page = client.post(address, WISH | {"wanted_by": "2026-05-30", "note": "Budget of June"})
    words = page.content.decode()
    assert "30 May 2026 is before 31 May 2026" in words and "Budget of June" in words
    assert client.post(address, WISH | {"wanted_by": "2026-05-31"}).status_code == 302


def test_open_pipe_cannot_be_wanted_inert(client, world, owner):
    deluge = make_system(world.site, owner, tag="NQ-9", kind="deluge")
    client.force_login(owner)
    assert client.get(new_url(deluge, "request.inerting")).status_code == 404
