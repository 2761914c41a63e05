from datetime import date, timedelta

import pytest
from django.core.cache import cache
from django.urls import reverse
from django.utils import timezone

from registry.models import AtmosphereSpan, System
from registry.services.assessments import assess_system
from registry.templatetags.risk import signed
from reports.portfolio.counts import counts
from reports.portfolio.rows import rows_of
from reports.portfolio.sites import site_rows
from reports.risk.page import RiskPage
from tests.factories import (
    NOW,
    PSI,
    make_building,
    make_pipe_run,
    make_record,
    make_site,
    make_system,
)
from tests.html import one_line
from tests.queries import queries_of

DAY = timedelta(days=1)
URL = reverse("reports:portfolio")


def tags_of(response):
    return [row.tag for row in response.context["desk"].rows]


def make_many(site, count, start=0):
    """Systems with three spans each, past the services: only the page that reads them is tested."""
    systems = System.objects.bulk_create(
        System(site=site, tag=f"M-{start + n:05d}", kind="wet", installed_on=date(2000, 1, 1))
        for n in range(count)
    )
    states = ("aerated", "inert", "in_doubt")
    now = timezone.now()
    AtmosphereSpan.objects.bulk_create(
        AtmosphereSpan(
            system=system, starts_at=now - age * DAY, state=state, state_since=now - age * DAY,
            reason_code="test", reason="Test.", oxygen_low=0.01, oxygen_mid=0.02, oxygen_high=0.03,
        )
        for n, system in enumerate(systems)
        for age, state in zip((900, 400, 10), states[n % 3 :] + states[: n % 3], strict=True)
    )  # fmt: skip


@pytest.mark.thorough
def test_the_page_costs_as_many_queries_at_sixty_systems_and_at_ten_thousand(client, site, owner):
    queries = ("", "?sort=atmosphere&state=inert&text=m-0", "?sort=oxygen")
    asked = [URL + query for query in queries]
    client.force_login(owner)
    make_many(site, 60)
    few = [queries_of(client, url) for url in asked]
    make_many(site, 9940, start=60)
    cache.clear()
    many = [queries_of(client, url) for url in asked]
    assert all(later <= before for later, before in zip(many, few, strict=True)), (many, few)
    assert System.objects.count() == 10_000


def test_a_row_says_where_what_and_since_when(client, site, owner):
    system = make_system(
        site, owner, tag="NQ-1", kind="dry", building=make_building(site, "Shed 4")
    )
    make_pipe_run(system, owner)
    record = make_record(system, "event.fire", NOW - DAY, owner)
    client.force_login(owner)
    asked = {"columns": ["oxygen", "volume", "last_event", "age"]}
    page = client.get(URL, asked).content.decode()
    assert system.get_absolute_url() in page
    assert "Shed 4" in page
    assert "dry pipe" in page
    assert "since 1 Mar 2005" in page
    assert "20.9" in page
    assert f"{system.volume().m3 / 0.003785411784:,.1f}" in page
    assert record.get_absolute_url() in page
    assert "31 May" in page


def test_strip_oxygen_and_age_are_of_the_row(system, owner):
    """A system on air make-up: the estimate drifts on from the last reading without a new span."""
    system.kind, system.gas_supply = "dry", "compressor"
    system.service_pressure_gauge_pa = 30 * PSI
    system.save()
    make_record(system, "reading.gas", NOW - 100 * DAY, owner, n2_percent=98.0)

    def row(at):
        return rows_of([system.pk], owner, at, since=None, columns=("oxygen",))[0]

    estimates = [row(at).oxygen.mid for at in (NOW - 99 * DAY, NOW - 80 * DAY)]
    assert estimates[0] < estimates[1] < 0.21
    assert [kind for kind, _ in row(NOW).marks] == ["reading.gas"]


def test_text_finds_tag_site_and_building_word_by_word(client, world, owner):
    quay, mole = world.site, make_site(world.owner_organisation, name="South Mole")
    make_system(quay, owner, tag="A-1", building=make_building(quay, "Cold shed"))
    make_system(quay, owner, tag="A-2")
    make_system(mole, owner, tag="B-1")
    client.force_login(owner)
    for text, found in (
        ("a-", ["A-1", "A-2"]),
        ("mole", ["B-1"]),
        ("quay cold", ["A-1"]),
        ("nowhere", []),
    ):
        assert tags_of(client.get(URL, {"text": text, "sort": "tag"})) == found


def test_filters_narrow_by_site_kind_and_state(client, world, owner):
    make_system(world.site, owner, tag="A-1", kind="wet")
    dry = make_system(world.site, owner, tag="A-2", kind="dry")
    mole = make_site(world.owner_organisation, name="South Mole")
    make_system(mole, owner, tag="B-1", kind="dry")
    dry.spans.update(state="inert")
    client.force_login(owner)
    assert tags_of(client.get(URL, {"site": mole.pk})) == ["B-1"]
    assert tags_of(client.get(URL, {"kind": "dry", "sort": "tag"})) == ["A-2", "B-1"]
    assert tags_of(client.get(URL, {"state": "inert"})) == ["A-2"]
    assert tags_of(client.get(URL, {"state": "inert", "kind": "wet"})) == []


def test_follow_ups_can_be_asked_for(client, site, owner):
    make_system(site, owner, tag="A-1")
    aerated = make_system(site, owner, tag="A-2")
    make_record(aerated, "reading.gas", NOW - 40 * DAY, owner, n2_percent=98.5)
    make_record(aerated, "event.fire", NOW - 30 * DAY, owner)
    assert aerated.tasks.open().exists()
    client.force_login(owner)
    assert "A-2" in tags_of(client.get(URL, {"follow_ups": "open"}))
    assert "A-2" not in tags_of(client.get(URL, {"follow_ups": "none"}))
    aerated.tasks.update(due_at=timezone.now() - 3 * DAY)
    page = client.get(URL, {"follow_ups": "late"})
    assert tags_of(page) == ["A-2"]
    assert "3 days late" in page.content.decode().replace("\xa0", " ")


def test_the_database_sorts(client, site, owner):
    for tag, installed, length in (("A-1", 1990, 10), ("A-2", 2015, 300), ("A-3", 2001, 40)):
        system = make_system(site, owner, tag=tag, installed_on=date(installed, 1, 1))
        make_pipe_run(system, owner, length_m=length)
    client.force_login(owner)
    assert tags_of(client.get(URL, {"sort": "tag"})) == ["A-1", "A-2", "A-3"]
    assert tags_of(client.get(URL, {"sort": "-volume"})) == ["A-2", "A-3", "A-1"]
    assert tags_of(client.get(URL, {"sort": "age"})) == ["A-2", "A-3", "A-1"]
    assert tags_of(client.get(URL, {"sort": "-age"})) == ["A-1", "A-3", "A-2"]


def test_oxygen_sorts_by_what_it_has_drifted_to_and_not_by_the_last_reading(client, site, owner):
    """The system with the better reading stands on a compressor, and has long been overtaken."""
    at = timezone.now() - 300 * DAY
    for tag, supply, n2_percent in (("A-1", "compressor", 98.6), ("A-2", "cylinders", 98.0)):
        system = make_system(
            site, owner, tag=tag, kind="dry", gas_supply=supply,
            service_pressure_gauge_pa=30 * PSI,
        )  # fmt: skip
        make_record(system, "reading.gas", at, owner, n2_percent=n2_percent)
    System.objects.create(site=site, tag="A-3", kind="wet", installed_on=date(2000, 1, 1))
    client.force_login(owner)
    assert tags_of(client.get(URL, {"sort": "oxygen"})) == ["A-2", "A-1", "A-3"]
    assert tags_of(client.get(URL, {"sort": "-oxygen"})) == ["A-1", "A-2", "A-3"]
    assert tags_of(client.get(URL, {"sort": "-oxygen", "text": "A-2"})) == ["A-2"]


@pytest.mark.parametrize(
    "column",
    [
        "tag",
        "place",
        "kind",
        "atmosphere",
        "oxygen",
        "volume",
        "age",
        "late",
        "last_event",
        "score",
        "life",
        "delay",
    ],
)
def test_every_column_sorts_both_ways(client, system, owner, column):
    client.force_login(owner)
    for sign in ("", "-"):
        response = client.get(URL, {"sort": sign + column, "columns": column})
        assert tags_of(response) == ["NQ-101"]
        assert "aria-sort" in response.content.decode()


@pytest.mark.parametrize("sort", ["-score", "score", "tag", "-age", "late", "oxygen", "place"])
def test_pages_by_key_show_each_system_once_and_lead_back(client, site, owner, sort):
    """Also where keys are alike or unknown: none of these has a score."""
    make_many(site, 130)
    client.force_login(owner)
    page = client.get(URL, {"sort": sort, "text": "M-"})
    seen, ways = [], []
    while True:
        ways.append(tags_of(page))
        seen += ways[-1]
        after = page.context["desk"].pages["after"]
        if not after:
            break
        assert "text=M-" in after
        page = client.get(URL + after)
    assert (len(ways), len(seen), len(set(seen))) == (3, 130, 130)
    for expected in reversed(ways[:-1]):
        page = client.get(URL + page.context["desk"].pages["before"])
        assert tags_of(page) == expected
    assert page.context["desk"].pages["before"] == ""


@pytest.mark.parametrize("end", ["x", "999999999999999999999", "5:not a number", "7:nan", ":"])
def test_an_end_of_a_page_that_is_none_begins_anew(client, system, owner, end):
    client.force_login(owner)
    assert client.get(URL, {"after": end}).status_code == 200


@pytest.mark.parametrize("asked", ["1000000", "0", "-3"])
def test_how_many_rows_a_page_holds_is_not_for_the_address_to_say(client, site, owner, asked):
    client.force_login(owner)
    make_many(site, 60)
    response = client.get(URL, {"per_page": asked})
    assert (response.status_code, len(tags_of(response))) == (200, 50)


def test_a_text_of_very_many_words_still_gets_an_answer(client, system, owner):
    client.force_login(owner)
    response = client.get(URL, {"text": "nq " * 1500})
    assert (response.status_code, tags_of(response)) == (200, ["NQ-101"])


def test_the_counts_are_of_what_the_person_may_see(world, owner, stranger):
    first = make_system(world.site, owner)
    make_system(world.site, owner)
    first.spans.update(state="inert")
    told = counts(owner, NOW)
    assert (told.systems, told.sites) == (2, 1)
    assert dict(told.states) == {"aerated": 1, "in_doubt": 0, "inert": 1}
    assert counts(stranger, NOW).systems == 0


def test_sites_are_summed_up(world, owner):
    system = make_system(world.site, owner)
    make_record(system, "reading.gas", NOW - 40 * DAY, owner, n2_percent=98.5)
    make_record(system, "event.fire", NOW - 30 * DAY, owner)
    empty = make_site(world.owner_organisation, name="South Mole")
    (north, south), after = site_rows(owner, NOW)
    assert (north.site, north.systems, north.contractor) == (
        world.site, 1, "Pellmoor Fire Protection"
    )  # fmt: skip
    assert dict(north.states)["aerated"] == 1
    assert north.open_work == system.tasks.open().count() + system.occurrences.open().count() > 0
    assert (south.site, south.systems, south.contractor, south.open_work) == (empty, 0, "", 0)
    assert after == ""


def test_a_stranger_sees_none_of_it(client, system, stranger):
    client.force_login(stranger)
    page = client.get(URL).content.decode()
    assert "NQ-101" not in page
    assert "North Quay" not in page


def test_an_empty_portfolio_says_what_to_do_next(client, world):
    client.force_login(world.stranger)
    assert reverse("registry:import-new") in client.get(URL).content.decode()
    client.force_login(world.viewer)
    page = client.get(URL).content.decode()
    assert "No systems yet" in page
    assert "Import a register" not in page


def test_a_system_whose_state_is_not_derived_yet_is_shown_all_the_same(client, site, owner):
    System.objects.create(site=site, tag="A-1", kind="wet", installed_on=date(2000, 1, 1))
    client.force_login(owner)
    page = client.get(URL).content.decode()
    assert "not derived" in page
    assert "The atmosphere of 1 is not derived yet" in page


def test_each_score_leads_to_what_it_is_made_of(client, world, owner):
    now = timezone.now()
    system = make_system(world.site, world.owner, now=now - timedelta(days=900))
    make_pipe_run(system, world.owner, now=now - timedelta(days=900))
    assess_system(system, now)
    client.force_login(owner)
    risk = reverse("reports:risk", args=[system.pk])
    assert f'href="{risk}#reasons"' in one_line(client.get(URL))
    assert 'id="reasons"' in one_line(client.get(risk))


def test_why_it_changed_is_read_when_a_row_is_opened(client, world, owner):
    now = timezone.now()
    system = make_system(world.site, world.owner, now=now - timedelta(days=900))
    make_pipe_run(system, world.owner, now=now - timedelta(days=900))
    for days in (400, 0):
        assess_system(system, now - timedelta(days=days))
    client.force_login(owner)
    html = one_line(client.get(reverse("reports:risk-changed", args=[system.pk])))
    page = RiskPage(system, units="us", now=now)
    assert f"{signed(page.bridge_total)} points since" in html
    for step in page.bridge:
        assert f"{signed(step.points)} {step.text}" in html


def test_an_inert_system_costs_nothing_to_wait_for(client, world, owner):
    now = timezone.now()
    system = make_system(world.site, world.owner, now=now - timedelta(days=900))
    make_pipe_run(system, world.owner, now=now - timedelta(days=900))
    row = assess_system(system, now)
    assert row.is_worth_telling_delay
    client.force_login(owner)
    waiting = {"columns": "delay"}
    assert " points<br>" in one_line(client.get(URL, waiting))
    type(row).objects.filter(pk=row.pk).update(delay_points_per_week=0.0, delay_um_per_week=1e-4)
    html = one_line(client.get(URL, waiting))
    assert " points<br>" not in html and ">nothing</span>" in html
    assert "Cost of waiting a week" not in one_line(client.get(system.get_absolute_url()))
