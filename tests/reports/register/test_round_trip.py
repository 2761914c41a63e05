"""The register goes out and comes in again, and nothing changes."""

import csv
from datetime import UTC, date, datetime, timedelta

import pytest
from django.urls import reverse
from openpyxl import load_workbook

from registry.imports.answers import Answers
from registry.imports.load import run_import
from registry.models import PipeRun, System
from registry.services import add_pipe_run
from reports.register.rows import COLUMNS, TO_FIX, as_text

NOW = datetime(2026, 6, 1, 12, tzinfo=UTC)
MORE = """Site,Building,System tag,Type,Hazard,Pipe role,Material,Schedule,Nominal size,Wall,\
Length,Joint,Installed,N2
Pier,Mill,MAR-1,wet,OH1,riser,black steel,mittelschwer,DN65,,12.345 m,welded,May 2004,
Pier,Mill,MAR-1,wet,OH1,range,black steel,,"60,3 x 2,9",,7 m,grooved rolled,Q3 2011,
Pier,,=1+1,dry,EH2,cross main,stainless,10,4,,1204 ft,,c. 1998,generator
Pier,,=1+1,dry,EH2,feed main,galv,light,8,,3 m,cut grooved,1990s,generator
Pier,,P-3,antifreeze,storage,branch,copper,L,1,,9.1 m,,before 1985,none
Pier,,P-4,wet,,branch,CPVC,SDR 13.5,2,,41' 6",,1998-05-26,
"""


@pytest.fixture
def register(world, tmp_path):
    path = tmp_path / "register.csv"
    path.write_text(MORE, "utf-8")
    outcome = load(world, path)
    assert (outcome.new, outcome.to_fix) == (6, 0), outcome.groups
    system = System.objects.get(tag="P-4")
    add_pipe_run(
        system=system, recorded_by=world.owner, now=NOW, role="riser", material="black_steel",
        nominal_size="4", schedule="40", length_m=12.3456789, installed_on=date(2001, 3, 4),
    )  # fmt: skip
    return path


def load(world, path, now=NOW):
    return run_import(
        path, owner=world.owner_organisation, answers=Answers(), now=now, recorded_by=world.owner
    )


def content(response) -> bytes:
    return b"".join(response.streaming_content) if response.streaming else response.content


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_the_register_comes_back_as_it_went_out(client, world, register, tmp_path, kind):
    client.force_login(world.owner)
    out = client.get(reverse(f"reports:register-{kind}", args=[world.owner_organisation.pk]))
    path = tmp_path / f"out.{kind}"
    path.write_bytes(content(out))
    before = list(PipeRun.objects.order_by("pk").values()), list(System.objects.values())
    outcome = load(world, path, NOW + timedelta(days=1))
    assert (outcome.rows, outcome.known, outcome.new, outcome.to_fix) == (7, 7, 0, 0), (
        outcome.groups
    )
    assert (list(PipeRun.objects.order_by("pk").values()), list(System.objects.values())) == before


def test_into_an_empty_book_it_makes_the_same_pipe(client, world, register, tmp_path):
    client.force_login(world.owner)
    out = client.get(reverse("reports:register-csv", args=[world.owner_organisation.pk]))
    path = tmp_path / "out.csv"
    path.write_bytes(content(out))
    run_import(
        path, owner=world.other_owner, answers=Answers(), now=NOW, recorded_by=world.stranger
    )
    facts = ("role", "material", "schedule", "nominal_size", "wall_mm", "wall_basis",
             "outside_diameter_mm", "joint", "installed_on", "installed_precision")  # fmt: skip

    def pipe(owner):
        runs = PipeRun.objects.filter(system__site__owner=owner)
        return sorted((*values, round(length, 4)) for *values, length in
                      runs.values_list(*facts, "length_m"))  # fmt: skip

    assert pipe(world.other_owner) == pipe(world.owner_organisation)


def test_the_workbook_has_sheets_in_the_manner_of_cobie(client, world, register, tmp_path):
    client.force_login(world.owner)
    out = client.get(reverse("reports:register-xlsx", args=[world.owner_organisation.pk]))
    path = tmp_path / "out.xlsx"
    path.write_bytes(content(out))
    book = load_workbook(path)
    assert book.sheetnames == ["Register", "Facility", "System", "Component", "Attribute"]
    assert [cell.value for cell in book["Register"][1]] == list(COLUMNS)
    components = {row[0].value for row in book["Component"].iter_rows(min_row=2)}
    said = [row for row in book["Attribute"].iter_rows(min_row=2) if row[4].value == "Component"]
    assert {row[5].value for row in said} == components
    assert "MAR-1" in {cell.value for cell in book["Register"]["C"]}


@pytest.fixture
def handover(client, world, register, tmp_path):
    """The sheets in the manner of COBie alone, without the sheet of the register."""
    client.force_login(world.owner)
    out = client.get(reverse("reports:register-xlsx", args=[world.owner_organisation.pk]))
    path = tmp_path / "handover.xlsx"
    path.write_bytes(content(out))
    book = load_workbook(path)
    del book["Register"]
    book.save(path)
    return path


def test_handover_sheets_come_in_again_and_nothing_changes(world, handover):
    before = list(PipeRun.objects.order_by("pk").values()), list(System.objects.values())
    outcome = load(world, handover, NOW + timedelta(days=1))
    assert (outcome.rows, outcome.known, outcome.to_fix) == (7, 7, 0), outcome.groups
    assert (list(PipeRun.objects.order_by("pk").values()), list(System.objects.values())) == before


def test_handover_sheets_into_an_empty_book_make_the_same_systems(world, handover):
    run_import(
        handover, owner=world.other_owner, answers=Answers(), now=NOW, recorded_by=world.stranger
    )
    facts = ("tag", "kind", "hazard", "gas_supply", "installed_on", "installed_precision",
             "site__name", "building__name")  # fmt: skip

    def systems(owner):
        return sorted(System.objects.filter(site__owner=owner).values_list(*facts), key=str)

    assert systems(world.other_owner) == systems(world.owner_organisation)


@pytest.mark.parametrize(
    ("number", "text"), [(12.0, "12.0"), (12.345, "12.3450"), (1.2, "1.2"), (12.06583, "12.06583")]
)
def test_no_number_goes_out_that_could_be_read_as_thousands(number, text):
    assert as_text(number) == text


def test_rows_still_to_fix_are_said_and_come_in_again_as_nothing(client, world, register, tmp_path):
    System.objects.filter(tag="P-3").update(open_rows=2)
    client.force_login(world.owner)
    out = client.get(reverse("reports:register-csv", args=[world.owner_organisation.pk]))
    path = tmp_path / "out.csv"
    path.write_bytes(content(out))
    with path.open(encoding="utf-8-sig", newline="") as file:
        told = {row["System tag"]: row[TO_FIX] for row in csv.DictReader(file)}
    assert (told["P-3"], told["P-4"]) == ("2", "")
    outcome = load(world, path, NOW + timedelta(days=1))
    assert (outcome.known, outcome.new, outcome.to_fix) == (7, 0, 0), outcome.groups
