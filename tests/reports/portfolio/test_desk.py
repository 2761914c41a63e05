"""Saved views, search, exports, one deed at several systems, and inerting ordered from a page."""

import re
from datetime import timedelta
from io import BytesIO

import pytest
from django.urls import reverse
from django.utils import timezone
from openpyxl import load_workbook

from registry.models import LastVisit, SavedView
from registry.services.desk import visit
from reports.finding.found import found
from tests.factories import NOW, make_pipe_run, make_record, make_site, make_system

HOUR, DAY = timedelta(hours=1), timedelta(days=1)
URL = reverse("reports:portfolio")


def test_a_view_is_a_name_for_an_address_shared_within_an_organisation(client, world):
    make_system(world.site, world.owner, kind="dry")
    client.force_login(world.owner)
    said = {"name": " Frost  first ", "query": "kind=dry&sort=tag",
            "organisation": world.owner_organisation.pk}  # fmt: skip
    answer = client.post(reverse("reports:view-save"), said)
    assert answer["Location"] == f"{URL}?kind=dry&sort=tag"
    for person, is_shown in ((world.viewer, True), (world.technician, False)):
        client.force_login(person)
        assert ("Frost first" in client.get(URL).content.decode()) is is_shown
    client.force_login(world.viewer)  # a reader may not keep one
    assert client.post(reverse("reports:view-save"), said).status_code == 422
    assert SavedView.objects.count() == 1


def test_a_view_without_a_name_says_what_is_missing(client, world):
    client.force_login(world.owner)
    said = {"name": " ", "query": "", "organisation": world.owner_organisation.pk}
    answer = client.post(reverse("reports:view-save"), said)
    assert answer.status_code == 422 and "Nothing is written here yet" in answer.content.decode()


def test_since_the_last_visit_stays_while_a_visit_lasts(owner):
    assert visit(user=owner, now=NOW) is None
    assert visit(user=owner, now=NOW + HOUR) is None
    later = NOW + DAY
    assert visit(user=owner, now=later) == NOW + HOUR
    assert visit(user=owner, now=later + HOUR) == NOW + HOUR
    assert LastVisit.objects.get().seen_at == later + HOUR


def test_at_a_first_visit_no_score_is_called_the_same(client, owner, system):
    client.force_login(owner)
    cell = re.compile(r"<td class=ch>(.*?)</td>")
    assert cell.findall(client.get(URL).text) == [""]
    LastVisit.objects.filter(user=owner).update(before_at=timezone.now())
    assert "same" in cell.findall(client.get(URL).text)[0]


@pytest.mark.parametrize(
    "text, group, word",
    [
        ("nq-1", "Systems", "NQ-101"), ("north nq", "Systems", "NQ-101"),
        ("quay", "Sites", "North Quay"), ("tam", "People", "Tam Technician"),
        ("re-inert", "Orders", "Re-inerting order"), ("pallet", "Remarks", "pallets"),
    ],
)  # fmt: skip
def test_search_finds_by_the_beginnings_of_words(world, system, text, group, word):
    from registry.services import record

    make_record(system, "event.fire", NOW - DAY, world.technician)
    record(
        system=system, kind="event.observation", occurred_at=NOW - HOUR, details={"text": "Seen"},
        recorded_by=world.owner, note="Stacked pallets at the riser.", now=NOW,
    )  # fmt: skip
    groups = {one.name: one.hits for one in found(world.owner, text)}
    assert any(word in hit.words for hit in groups[group])
    assert found(world.stranger, text) == []


def test_search_follows_a_change_in_its_transaction(world, system):
    assert found(world.owner, "renamed") == []
    world.site.name = "Renamed Quay"
    world.site.save()
    assert {one.name for one in found(world.owner, "renamed")} == {"Systems", "Sites"}
    assert found(world.owner, "north") == []


@pytest.mark.parametrize("odd", ['"', "'; --", "* AND (", "a" * 500, "-", "NOT", "né "])
def test_search_takes_whatever_is_typed(client, world, system, odd):
    client.force_login(world.owner)
    assert client.get(reverse("reports:find"), {"q": odd}).status_code == 200


def test_files_hold_what_is_filtered_in_its_order(client, world):
    other = make_site(world.owner_organisation, name="South Mole")
    for tag, site, kind in (
        ("B-2", world.site, "dry"),
        ("A-1", other, "dry"),
        ("C-3", other, "wet"),
    ):
        make_system(site, world.owner, tag=tag, kind=kind)
    client.force_login(world.owner)
    asked = {"kind": "dry", "sort": "tag"}
    lines = b"".join(client.get(reverse("reports:portfolio-csv"), asked).streaming_content)
    tags = [line.split(",")[0] for line in lines.decode("utf-8-sig").splitlines()]
    assert tags == ["system", "A-1", "B-2"]
    content = client.get(reverse("reports:portfolio-xlsx"), asked).content
    rows = list(load_workbook(BytesIO(content)).active.values)
    assert [row[0] for row in rows] == ["system", "A-1", "B-2"]
    client.force_login(world.stranger)
    lines = b"".join(client.get(reverse("reports:portfolio-csv")).streaming_content)
    assert b"A-1" not in lines


def test_an_aerated_system_is_ordered_inert_once(client, world, system):
    make_pipe_run(system, world.owner)
    client.force_login(world.owner)
    address = reverse("scheduling:order-inerting", args=[system.pk])
    assert address in client.get(URL).content.decode()
    assert address in client.get(system.get_absolute_url()).content.decode()
    asked = client.get(address).content.decode()
    assert "goes to Pellmoor Fire Protection" in asked and "assumed" in asked
    past = {"wanted_by": (timezone.now() - 5 * DAY).date().isoformat()}
    assert "is past at the site" in client.post(address, past).content.decode()
    assert client.post(address, {}).status_code == 302
    assert system.tasks.open().filter(kind="reinerting_order").count() == 1
    assert "ordered already" in client.post(address, {}).content.decode()
    assert system.records.filter(kind="request.inerting").count() == 1


def test_one_deed_at_several_systems_names_what_it_could_not_do(client, world):
    systems = [make_system(world.site, world.owner, tag=f"S-{n}") for n in range(3)]
    inert = systems[2]
    inert.spans.update(state="inert")
    client.force_login(world.owner)
    said = {"deed": "order", "system": [one.pk for one in systems], "back": URL}
    assert "3 systems" in client.post(reverse("scheduling:several"), said).content.decode()
    answer = client.post(reverse("scheduling:several"), said | {"sent": "1"}, follow=True)
    page = answer.content.decode()
    assert "done at S-0, S-1" in page and "Only an aerated system is ordered inert" in page
    ordered = [one for one in systems if one.tasks.open().inerting_runs().exists()]
    assert ordered == systems[:2]
    client.force_login(world.stranger)
    answer = client.post(reverse("scheduling:several"), said | {"sent": "1"}, follow=True)
    assert "S-0" not in answer.content.decode()
