"""The page of one system: what it shows to whom."""

from datetime import UTC, date, datetime, timedelta

import pytest
from django.urls import reverse

from registry import services
from registry.pages.system import age_in_years
from tests.factories import NOW, make_record, make_site, make_system
from tests.html import one_line
from tests.queries import queries_of
from tests.restoration import RESTORED

DAY = timedelta(days=1)


def page_of(client, system):
    response = client.get(system.get_absolute_url())
    assert response.status_code == 200
    return one_line(response)


def test_the_page_says_the_state_its_reason_and_its_cause(client, system, owner):
    record = make_record(system, "event.fire", NOW - DAY, owner)
    client.force_login(owner)
    page = page_of(client, system)
    assert "Aerated" in page
    assert record.get_absolute_url() in page
    assert "air has 20.9" in page


def test_air_is_rounded_alike_in_both_places(client, system, owner):
    client.force_login(owner)
    page = page_of(client, system).replace("&nbsp;", " ")
    assert "<strong>20.9 %</strong>" in page
    assert "air has 20.9 %" in page


def test_no_inerting_run_is_offered_for_open_nozzles(client, site, owner):
    client.force_login(owner)
    for kind, is_offered in (("wet", True), ("deluge", False)):
        system = make_system(site, owner, kind=kind)
        offer = reverse("registry:run-plan", args=[system.pk])
        assert (offer in page_of(client, system)) is is_offered


def test_the_ledger_on_the_page_strikes_what_was_corrected_and_leads_to_the_correction(
    client, system, owner
):
    wrong = make_record(system, "reading.gas", NOW - DAY, owner, n2_percent=89.4)
    right = services.record(
        system=system, kind="reading.gas", occurred_at=NOW - DAY, details={"n2_percent": 98.4},
        recorded_by=owner, supersedes=wrong, now=NOW,
    )  # fmt: skip
    client.force_login(owner)
    lines = {
        line.record: line for line in client.get(system.get_absolute_url()).context["page"].lines
    }
    assert lines[wrong].later == right
    assert lines[right].later is None
    page = page_of(client, system)
    assert "superseded" in page
    assert f'Corrected by <a href="{right.get_absolute_url()}">number {right.sequence}</a>' in page


def test_an_open_impairment_stands_at_the_top_until_it_ends(client, system, technician):
    make_record(system, "event.impairment_start", NOW - 2 * DAY, technician, areas="Bays 1 to 6")
    client.force_login(technician)
    page = page_of(client, system)
    assert "Protection: impaired since 30 May 2026, 13:00" in page
    assert reverse("scheduling:impairment-end", args=[system.pk]) in page
    make_record(system, "event.impairment_end", NOW - DAY, technician, **RESTORED)
    assert "Protection: impaired" not in page_of(client, system).partition('id="ledger"')[0]


def test_protection_counts_from_an_installation_as_precisely_as_that_is_known(
    client, system, technician
):
    system.installed_precision = "year"
    system.save()
    make_record(
        system, "event.leak", NOW - DAY, technician,
        form="pinhole", through="water", air_entered="unknown",
    )  # fmt: skip
    client.force_login(technician)
    page = page_of(client, system)
    assert f"Protection: not known since {system.installed_on.year} </h2>" in " ".join(page.split())
    assert ", 00:00" not in page


def test_a_withdrawn_impairment_is_not_shown_as_open(client, system, technician):
    record = make_record(system, "event.impairment_start", NOW - DAY, technician, areas="Bay 1")
    services.withdraw(record=record, reason="Wrong system", recorded_by=technician, now=NOW)
    client.force_login(technician)
    assert "Protection: impaired" not in page_of(client, system).partition('id="ledger"')[0]


def test_actions_are_offered_to_those_who_may(client, world, system):
    log, edit = (
        reverse(f"registry:{name}", args=[system.pk]) for name in ("record-choose", "system-edit")
    )
    offered = {"owner": (True, True), "technician": (True, False), "viewer": (False, False)}
    for person, (may_log, may_edit) in offered.items():
        client.force_login(getattr(world, person))
        page = page_of(client, system)
        assert (log in page, edit in page) == (may_log, may_edit), person


def test_a_stranger_gets_404(client, system, stranger):
    client.force_login(stranger)
    assert client.get(system.get_absolute_url()).status_code == 404


def test_facts_are_shown_in_the_units_of_the_reader(client, system, owner):
    client.force_login(owner)
    volume = system.volume().m3
    assert f"{volume / 0.003785411784:,.1f}" in page_of(client, system)
    owner.display_units = "si"
    owner.save()
    page = page_of(client, system)
    assert f"{volume * 1000:,.1f}" in page
    assert "12.07" in page  # 175 psi in bar


def test_the_page_costs_as_many_queries_with_a_long_ledger(client, system, owner):
    client.force_login(owner)
    url = system.get_absolute_url()
    make_record(system, "reading.gas", NOW - DAY, owner, n2_percent=98.0)
    few = queries_of(client, url)
    for hour in range(30):
        make_record(system, "reading.gas", NOW - timedelta(hours=hour), owner, n2_percent=98.0)
    assert queries_of(client, url) == few


def test_a_system_aerated_from_the_start_is_led_to_its_first_inerting_run(client, system, owner):
    client.force_login(owner)
    words = "Orders come from events"
    assert words in page_of(client, system)
    make_record(system, "event.fire", NOW - DAY, owner)
    assert words not in page_of(client, system)


def test_where_only_the_year_of_installation_is_known_no_day_is_made_up(client, site, owner):
    system = make_system(
        site, owner, installed_on=date(1989, 1, 1), installed_precision="year", tag="NQ-989"
    )
    client.force_login(owner)
    for address in (system.get_absolute_url(), site.get_absolute_url()):
        page = one_line(client.get(address))
        assert "since 1989" in page
        assert "1 January 1989" not in page


def test_the_oxygen_estimate_follows_the_supply(client, world, owner):
    """A dry system left on air make-up: the estimate a year later is above the last reading."""
    site = make_site(world.owner_organisation)
    system = make_system(site, owner, kind="dry", gas_supply="compressor")
    make_record(system, "reading.gas", datetime(2025, 6, 1, tzinfo=UTC), owner, n2_percent=98.5)
    client.force_login(owner)
    page = client.get(system.get_absolute_url()).context["page"]
    assert page.oxygen.mid > 0.1


@pytest.mark.parametrize(
    ("today", "years"), [(date(2026, 3, 1), 21), (date(2026, 2, 28), 20), (date(2005, 3, 1), 0)]
)
def test_age_counts_full_years(today, years):
    assert age_in_years(date(2005, 3, 1), today) == years


def test_the_strip_tells_protection_in_a_lane_with_its_words(client, system, owner):
    make_record(system, "event.head_break", NOW - 3 * DAY, owner, count=1)
    client.force_login(owner)
    page = page_of(client, system)
    assert "Under the band, protection: impaired 1 time" in page
    assert 'class="strip-impaired"' in page
    assert ", and protection under it</title>" in page
    key = page[page.index("<b>Protection</b>") :]
    assert "impaired</li>" in key[:1500]
    assert "in service</li>" not in key[:1500], "a state that it never had is not in the key"


def test_a_line_of_the_ledger_says_what_it_did_to_protection(client, system, owner):
    make_record(system, "event.head_break", NOW - 3 * DAY, owner, count=1)
    make_record(system, "event.impairment_end", NOW - DAY, owner, **RESTORED)
    client.force_login(owner)
    lines = {
        line.record.kind: line.protection
        for line in client.get(system.get_absolute_url()).context["page"].lines
    }
    assert lines["event.head_break"].startswith("Protection: impaired since ")
    assert lines["event.impairment_end"] == "Protection: in service."
