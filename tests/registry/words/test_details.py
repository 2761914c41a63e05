import pytest

from registry.kinds import KINDS
from registry.models import Fitting, PipeRun, System
from registry.words.details import answers, one_line
from tests.factories import NOW, PSI, make_record, make_system


def told(code, details, units="us", **how):
    return [(answer.prompt, answer.text) for answer in answers(KINDS[code], details, units, **how)]


def test_answers_come_in_the_order_of_the_form_and_in_the_readers_units():
    details = {"to_gauge_pa": 10 * PSI, "from_gauge_pa": 40 * PSI, "air_entered": "no"}
    assert told("event.gas_loss", details) == [
        ("Pressure before:", "40 psi gauge"),
        ("Lowest pressure:", "10 psi gauge"),
        ("Did air get into the pipe?", "No"),
    ]
    assert told("event.gas_loss", details, "si")[0] == ("Pressure before:", "2.76 bar gauge")


def test_a_brief_telling_shortens_the_questions():
    details = {"pipe_opened": "yes", "under_nitrogen": "unknown", "work": "New head"}
    assert told("event.repair", details, is_brief=True) == [
        ("Pipe opened:", "Yes"),
        ("Under nitrogen:", "Not known"),
        ("What was done:", "New head"),
    ]


def test_an_answer_of_nought_is_told():
    assert ("Share of the gas replaced by air:", "0 %") in told(
        "event.leak",
        {"form": "joint", "through": "gas", "air_entered": "no", "replaced_percent": 0.0},
    )


def test_days_and_numbers_are_told_as_people_write_them():
    details = {"n2_percent": 98.4, "analyser_calibrated_on": "2026-02-03"}
    assert told("reading.gas", details) == [
        ("Nitrogen:", "98.4 %"),
        ("Analyser calibrated:", "3 February 2026"),
    ]
    assert told("reading.water", {"ph": 7.0}) == [("pH:", "7")]


def test_one_line_joins_the_answers():
    line = one_line(KINDS["reading.gas"], {"n2_percent": 98.4, "where": "Far vent"})
    assert line == "Nitrogen: 98.4 %; Where: Far vent"


def test_a_change_of_the_register_says_from_what_to_what():
    details = {
        "rated_pressure_gauge_pa": {"from": 175 * PSI, "to": 300 * PSI},
        "hazard": {"from": "ordinary_1", "to": "extra_2"},
        "supply_n2_percent": {"from": None, "to": 98.5},
    }
    assert told("register.amended", details) == [
        ("Rated pressure", "was 175 psi gauge, is now 300 psi gauge"),
        ("Hazard", "was Ordinary hazard group 1, is now Extra hazard group 2"),
        ("Nitrogen of the supply", "was not recorded, is now 98.5 %"),
    ]
    assert one_line(KINDS["register.amended"], details, "si").startswith(
        "Rated pressure was 12.07 bar gauge, is now 20.68 bar gauge; Hazard was"
    )


def test_a_year_of_installation_is_told_as_a_year():
    entered = {"installed_on": "1989-01-01", "installed_precision": "year"}
    assert told("register.system", entered) == [("Installed:", "1989")]
    changed = {
        "installed_on": {"from": "1989-01-01", "to": "1991-05-17"},
        "installed_precision": {"from": "year", "to": "day"},
    }
    assert told("register.amended", changed) == [("Installed", "was 1989, is now 17 May 1991")]


def test_a_pipe_size_is_told_in_the_readers_way():
    assert told("register.pipe", {"nominal_size": "1-1/4"}) == [("Nominal size:", "1-1/4 in")]
    assert told("register.pipe", {"nominal_size": "1-1/4"}, "si") == [("Nominal size:", "DN32")]


def test_a_changed_fitting_is_named_and_only_its_change_is_told():
    before = {"kind": "vent", "label": "V2", "location": "Bay 1", "fitted_on": "2019-04-01"}
    details = {"fitting": {"from": before, "to": before | {"location": "Bay 12"}}}
    assert told("register.amended", details) == [("Vent V2:", "location was Bay 1, is now Bay 12")]


def test_a_new_fitting_is_told_in_one_breath():
    facts = {"kind": "vent", "label": "V2", "location": "Bay 1", "fitted_on": "2019-04-01"}
    assert told("register.amended", {"fitting": facts}) == [
        ("Vent V2:", "entered, location Bay 1, fitted 1 April 2019")
    ]


def test_a_brief_telling_leaves_out_what_is_not_known(system):
    entered = system.records.get(kind="register.pipe")
    full = dict(told(entered.kind, entered.details))
    brief = dict(told(entered.kind, entered.details, is_brief=True))
    assert full["Joint:"] == "Not recorded"
    assert "Joint:" not in brief
    assert brief["Material:"] == "Black steel"


@pytest.mark.parametrize("model", [System, PipeRun, Fitting], ids=lambda model: model.__name__)
def test_every_quantity_of_the_register_is_told_with_a_unit(system, owner, model):
    """A new field of a model must not slip through as a bare number in SI."""
    from registry.services.register.systems import FITTING_FACTS, PIPE_FACTS, SYSTEM_FACTS

    facts = {System: SYSTEM_FACTS, PipeRun: PIPE_FACTS, Fitting: FITTING_FACTS}[model]
    floats = [
        name for name in facts if model._meta.get_field(name).get_internal_type() == "FloatField"
    ]
    for prompt, text in told("register.system", dict.fromkeys(floats, 1.5)):
        assert not text.replace(".", "").isdigit(), prompt
    assert bool(floats) is (model is not Fitting)


def test_every_record_in_the_book_can_be_told(world, owner):
    system = make_system(world.site, owner, kind="dry")
    make_record(system, "event.trip", NOW, owner, cause="test", drained_after="yes")
    for record in system.records.all():
        assert answers(record.definition, record.details)
