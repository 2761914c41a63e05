import csv
from datetime import timedelta
from io import StringIO

import pytest

from registry.chain import verify
from registry.imports.answers import ONLY_FACTS
from registry.models import PipeRun, Record, Site, System
from registry.services import add_pipe_run, add_system
from registry.services.ledger import links
from tests.factories import make_site

from .conftest import NOW, SAMPLES

MESSY = SAMPLES / "register-messy.csv"
ROW = "Pier,P-1,wet,LH,cross main,black steel,40,4,100 m,2001"
LATER = NOW + timedelta(days=1)


def asked(outcome) -> list[str]:
    """The questions but the one that every file raises."""
    return [one.name for one in outcome.questions if one.name not in ONLY_FACTS]


def test_importing_twice_changes_nothing(load, book):
    first = load(MESSY)
    before = book()
    second = load(MESSY, now=LATER)
    assert book() == before
    assert (second.new, second.known, second.to_fix) == (0, first.new, first.to_fix)
    assert (second.systems_new, second.systems_known, second.sites_new) == (0, 4, [])


def test_looking_first_changes_nothing_and_tells_what_loading_then_does(load, book):
    before = book()
    looked = load(MESSY, dry=True)
    assert book() == before
    assert looked.to_json() | {"questions": []} == load(MESSY).to_json() | {"questions": []}


def test_bad_rows_come_back_in_their_own_columns_and_load_once_fixed(load, tmp_path):
    fixed = load(MESSY).fixed
    rows = list(csv.reader(StringIO(fixed)))
    original = list(csv.reader(StringIO(MESSY.read_text("utf-8-sig"))))
    assert rows[0] == [*original[0], "Problem", "What would be right", "Row key"]
    assert rows[1][:-3] == original[4]
    assert rows[1][-3] == "Run length “forty feet”: it does not begin with a number"

    path = tmp_path / "fixed.csv"
    path.write_text(fixed.replace("forty feet", "40 ft").replace("mithril", "BS"), "utf-8")
    again = load(path, now=LATER)
    # The row that was a repetition is now simply in the register.
    assert (again.new, again.known, again.to_fix) == (2, 1, 21)
    assert PipeRun.objects.filter(system__tag="GP-02").count() == 3
    assert load(path, now=LATER + timedelta(days=1)).known == 3


def test_a_bulk_import_writes_just_what_the_services_write(load, register_file, world):
    load(register_file(ROW + ",175 psi", more="Rated pressure"))
    bulk = System.objects.get(tag="P-1")
    single = add_system(
        site=make_site(world.owner_organisation, name="Pier 2", time_zone="UTC"),
        recorded_by=world.owner, now=NOW, tag="P-1", kind="wet", hazard="light",
        installed_on=bulk.installed_on, installed_precision="year", gas_supply="unknown",
        rated_pressure_gauge_pa=bulk.rated_pressure_gauge_pa,
    )  # fmt: skip
    add_pipe_run(
        system=single, recorded_by=world.owner, now=NOW, role="cross_main",
        material="black_steel", nominal_size="4", schedule="40", length_m=100.0,
    )  # fmt: skip

    def told(system):
        return {
            "records": [
                (r.sequence, r.kind, {**r.details, "site": ""}, r.occurred_at, r.recorded_at)
                for r in system.records.order_by("sequence")
            ],
            "spans": list(
                system.spans.values_list("starts_at", "state", "reason_code", "oxygen_mid")
            ),
            "volume": system.volume(),
            "next": System.objects.get(pk=system.pk).next_sequence,
        }

    assert told(bulk) == told(single)


def test_the_chain_of_an_imported_system_holds(load):
    load(MESSY)
    for system in System.objects.all():
        assert verify(links(system)) == []
        assert system.head_hash == system.records.order_by("sequence").last().hash


def test_a_remark_is_kept_once_as_an_observation_and_no_event_is_made_of_it(load):
    load(MESSY)
    kinds = Record.objects.exclude(kind__startswith="register.").values_list("kind", flat=True)
    assert set(kinds) == {"event.observation"}
    remark = Record.objects.get(system__tag="GP-01", kind="event.observation")
    assert remark.details == {"text": "pinhole in 2021 over the loom"}
    assert "row 3" in remark.note


def test_rows_of_one_system_need_not_stand_together(load, register_file, monkeypatch):
    monkeypatch.setattr("registry.imports.judge.CHUNK", 2)
    other = [f"Pier,P-{n},wet,LH,riser,BS,40,4,{n} m,2001" for n in range(2, 7)]
    outcome = load(register_file(ROW, *other, ROW.replace("100 m", "50 m")))
    assert (outcome.new, outcome.systems_new) == (7, 6)
    assert PipeRun.objects.filter(system__tag="P-1").count() == 2


def test_site_and_tag_are_one_whatever_their_case_and_spacing(load, register_file, world):
    outcome = load(register_file("north  QUAY,p-1,wet,LH,riser,BS,40,4,9 m,2001", ROW))
    assert outcome.sites_new == ["Pier"]
    assert Site.objects.filter(owner=world.owner_organisation).count() == 2
    again = load(register_file("North Quay,P-1,wet,LH,riser,BS,40,4,9 m,2001"), now=LATER)
    assert again.known == 1


def test_a_run_that_resembles_one_in_the_register_is_asked_about(load, register_file):
    load(register_file(ROW))
    changed = register_file(ROW.replace("100 m", "120 m"))
    left = load(changed, now=LATER)
    assert (left.new, left.to_fix, left.similar) == (0, 1, 1)
    assert left.questions[0].name == "similar"
    assert "already, with another length" in left.groups[0].wrong
    assert load(changed, now=LATER, similar="add").new == 1
    assert PipeRun.objects.count() == 2


def test_an_import_cut_short_is_taken_up_without_asking_about_its_own_runs(load, register_file):
    load(register_file(ROW))  # the first chunk of a larger file, then the worker died
    again = load(register_file(ROW, ROW.replace("100 m", "120 m")))
    assert (again.known, again.new, again.similar) == (1, 1, 0)


@pytest.mark.parametrize(
    ("row", "words"),
    [
        (ROW.replace("wet", "dry"), "the register has P-1 as Wet pipe"),
        (ROW.replace("LH", "OH1"), "the register has P-1 as Light hazard"),
    ],
)
def test_the_file_never_overwrites_the_register(load, register_file, book, row, words):
    load(register_file(ROW))
    before = book()
    outcome = load(register_file(row), now=LATER)
    assert book() == before
    assert outcome.groups[0].wrong == words


def test_another_owners_system_of_the_same_name_is_left_alone(load, register_file, world):
    theirs = add_system(
        site=make_site(world.other_owner, name="Pier"), recorded_by=world.stranger, now=NOW,
        tag="P-1", kind="dry", installed_on=NOW.date(),
    )  # fmt: skip
    assert load(register_file(ROW)).systems_new == 1
    assert theirs.pipe_runs.count() == 0


def test_cpvc_in_a_dry_system_is_refused_with_the_reason(load, register_file):
    outcome = load(register_file("Pier,P-1,dry,LH,branch line,CPVC,SDR 13.5,2,10 m,2001"))
    assert outcome.to_fix == 1
    assert "compressed gas can shatter it" in outcome.groups[0].wrong


def test_an_ambiguous_date_waits_for_its_answer(load, register_file):
    path = register_file(ROW.replace("2001", "3/4/2001"), ROW.replace("2001", "5/26/2001"))
    open_ = load(path, dry=True)
    assert (open_.new, open_.to_fix) == (1, 1)
    assert open_.questions[0].name == "date_order"
    assert "can only be month/day/year" in open_.questions[0].proposed
    load(path, date_order="dmy")
    days = set(PipeRun.objects.values_list("installed_on", flat=True))
    assert {day.isoformat() for day in days} == {"2001-04-03", "2001-05-26"}


def test_a_length_without_unit_waits_for_its_answer(load, register_file):
    path = register_file(ROW.replace("100 m", "100"))
    assert load(path, dry=True).questions[0].name == "length_unit"
    load(path, length_unit="ft")
    assert PipeRun.objects.get().length_m == pytest.approx(30.48)


def test_a_conflict_inside_a_system_can_be_settled_by_an_answer(load, register_file):
    path = register_file(ROW, ROW.replace("LH", "OH1").replace("100 m", "50 m"))
    looked = load(path, dry=True)
    assert (looked.to_fix, len(asked(looked))) == (2, 1)
    load(path, choices={asked(looked)[0]: "ordinary_1"})
    assert System.objects.get().hazard == "ordinary_1"
    assert PipeRun.objects.count() == 2
    again = load(path, now=LATER, choices={asked(looked)[0]: "ordinary_1"})
    assert (again.known, again.to_fix) == (2, 0)


def test_the_gas_supply_of_a_system_is_asked_before_it_is_entered_and_not_after(
    load, register_file
):
    path = register_file(ROW + ",yes", more="Nitrogen?")
    (name,) = asked(load(path, dry=True))
    assert asked(load(path, choices={name: "cylinders"})) == []
    assert System.objects.get().gas_supply == "cylinders"
    assert asked(load(path, now=LATER)) == []
    assert System.objects.get().gas_supply == "cylinders"


def test_where_no_column_is_the_site_the_buildings_are_offered(load, tmp_path):
    path = tmp_path / "buildings.csv"
    path.write_text(
        "Building,System tag,Type,Pipe role,Material,Schedule,Nominal size,Length (m),Installed\n"
        "Boiler house,B-1,wet,riser,black steel,40,4,9,2001\n",
        encoding="utf-8",
    )
    asked = next(one for one in load(path, dry=True).questions if one.name == "missing:site")
    assert asked.options[0][0] == "column:Building"
    outcome = load(path, dry=True, columns={"Building": "site"})
    assert (outcome.new, outcome.sites_new) == (1, ["Boiler house"])
