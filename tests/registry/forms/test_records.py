from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest
from django.utils.datastructures import MultiValueDict

from registry.forms.moments import LocalMomentField, moments
from registry.forms.records import RecordForm
from registry.kinds import KINDS, check_details
from tests.factories import NOW, PSI, make_pipe_run, make_record, make_site, make_system

LONDON = ZoneInfo("Europe/London")
BY_HAND = [kind for kind in KINDS.values() if kind.is_entered_by_hand]
TYPED = {
    "pressure": "30 psi",
    "pressure_difference": "2 psi",
    "temperature": "68 °F",
    "volume": "500 gal",
    "wall": "0.1 in",
    "mass": "2 g",
    "area": "4.5 in2",
    "duration": "45 min",
    "": "91.5",
}


def form_for(system, user, code, **answers):
    return RecordForm(data_for(code, **answers), kind=KINDS[code], system=system, user=user)


def data_for(code, **answers):
    data = {"occurred_at": "2026-05-31T14:30", **answers}
    return MultiValueDict({name: [value] for name, value in data.items()})


def typed_answer(field):
    if field.type in ("choice", "tri"):
        return field.choices[0][0]
    if field.type in ("quantity", "percent"):
        return TYPED[field.dimension]
    if field.name == "nominal_size":
        return "DN32"
    if field.type == "date":
        return "2026-06-01" if field.is_ahead else "2026-05-01"
    return {"text": "Bay 7", "integer": "2", "number": "6.5"}[field.type]


@pytest.mark.parametrize("kind", BY_HAND, ids=lambda kind: kind.code)
def test_the_form_of_every_kind_gives_details_that_the_ledger_accepts(system, owner, kind):
    fields = [field for field in kind.fields if field.type != "pipe_run"]  # this system has none
    answers = {field.name: typed_answer(field) for field in fields}
    form = form_for(system, owner, kind.code, **answers)
    assert form.is_valid(), form.errors
    assert set(check_details(kind, form.details)) == set(answers)


@pytest.mark.parametrize("kind", BY_HAND, ids=lambda kind: kind.code)
def test_answers_that_are_not_asked_for_may_stay_empty(system, owner, kind):
    needed = {field.name: typed_answer(field) for field in kind.fields if field.is_required}
    form = form_for(system, owner, kind.code, **needed)
    assert form.is_valid(), form.errors
    assert form.details.keys() == needed.keys()


def test_pressure_typed_in_any_unit_is_kept_in_pascal_gauge(system, owner):
    form = form_for(system, owner, "reading.pressure", pressure_gauge_pa="2 bar")
    assert form.is_valid()
    assert form.details == {"pressure_gauge_pa": pytest.approx(200_000)}


def test_an_absolute_pressure_is_taken_against_the_air_at_the_site(world, owner):
    high = make_site(world.owner_organisation, altitude_m=1609.0)
    system = make_system(high, owner)
    form = form_for(system, owner, "reading.pressure", pressure_gauge_pa="44.7 psia")
    assert form.is_valid()
    expected = 44.7 * PSI - high.atmosphere_pa
    assert form.details["pressure_gauge_pa"] == pytest.approx(expected)
    assert high.atmosphere_pa < 90_000


def test_a_bare_number_is_read_in_the_unit_printed_in_the_field(system, owner):
    owner.display_units = "us"
    form = form_for(system, owner, "reading.pressure", pressure_gauge_pa="30")
    assert form.fields["pressure_gauge_pa"].widget.attrs["data-unit"] == "psi gauge"
    assert form.is_valid()
    assert form.details["pressure_gauge_pa"] == pytest.approx(30 * PSI)


def test_a_time_span_needs_its_unit_and_shows_none(system, owner):
    form = form_for(system, owner, "reading.leak_down", duration_s="24")
    assert "data-unit" not in form.fields["duration_s"].widget.attrs
    assert "unit is missing" in form.errors["duration_s"][0]


def test_an_example_fits_what_is_asked(system, owner):
    share = form_for(system, owner, "event.leak").fields["replaced_percent"]
    reading = form_for(system, owner, "reading.gas").fields["n2_percent"]
    assert share.widget.attrs["placeholder"] == "for example 20 %"
    assert reading.widget.attrs["placeholder"] == "for example 98 %"


def test_more_than_all_the_gas_is_refused(system, owner):
    form = form_for(system, owner, "reading.gas", n2_percent="104 %")
    assert "more than 100 %" in form.errors["n2_percent"][0]


def test_when_it_happened_is_read_by_the_clock_of_the_site(system, owner):
    form = form_for(system, owner, "event.fire")
    assert form.is_valid()
    assert form.occurred_at == datetime(2026, 5, 31, 13, 30, tzinfo=UTC)
    assert "Europe/London" in form.fields["occurred_at"].help_text


def test_an_hour_that_the_clocks_skipped_is_refused_with_the_hours_beside_it(system, owner):
    form = form_for(system, owner, "event.fire", occurred_at="2026-03-29T01:30")
    (error,) = form.errors["occurred_at"]
    assert "No clock there showed 01:30 on 29 March 2026" in error
    assert "Write 00:30 or 02:30" in error


def test_an_hour_that_the_clocks_showed_twice_is_asked_about(system, owner):
    form = form_for(system, owner, "event.fire", occurred_at="2025-10-26T01:30")
    assert "showed 01:30 twice" in form.errors["occurred_at"][0]
    assert form.fields["which"].choices == [
        ("earlier", "The first time (BST, UTC+01:00)"),
        ("later", "The second time (GMT, UTC+00:00)"),
    ]


@pytest.mark.parametrize(("which", "hour"), [("earlier", 0), ("later", 1)])
def test_the_answer_to_which_of_the_two_settles_it(system, owner, which, hour):
    form = form_for(system, owner, "event.fire", occurred_at="2025-10-26T01:30", which=which)
    assert form.is_valid(), form.errors
    assert form.occurred_at == datetime(2025, 10, 26, hour, 30, tzinfo=UTC)


def test_nobody_is_asked_which_of_the_two_on_an_ordinary_day(system, owner):
    assert "which" not in form_for(system, owner, "event.fire").fields


@pytest.mark.parametrize("typed", ["yesterday", "2026-02-30T10:00", "0001-01-01T00:00", "31/05/26"])
def test_what_is_not_a_time_is_refused_with_an_example(typed):
    field = LocalMomentField(zone=LONDON)
    with pytest.raises(Exception, match="is not a date with a time. Write it like"):
        field.clean(typed)


@pytest.mark.parametrize(
    ("local", "count"),
    [
        (datetime(2026, 3, 29, 1, 30), 0),
        (datetime(2026, 3, 29, 0, 59), 1),
        (datetime(2026, 3, 29, 2, 0), 1),
        (datetime(2025, 10, 26, 1, 0), 2),
        (datetime(2025, 10, 26, 2, 0), 1),
    ],
)
def test_a_clock_shows_a_time_once_and_around_the_changes_never_or_twice(local, count):
    assert len(moments(local, LONDON)) == count


def test_half_hour_changes_are_handled_too():
    """Lord Howe Island moves its clocks by half an hour (IANA time zone database)."""
    zone = ZoneInfo("Australia/Lord_Howe")
    assert len(moments(datetime(2026, 10, 4, 2, 15), zone)) == 0
    assert len(moments(datetime(2026, 4, 5, 1, 45), zone)) == 2


def test_a_correction_begins_with_what_was_said(system, owner):
    original = make_record(system, "reading.gas", NOW, owner, n2_percent=97.25, where="Vent 2")
    form = RecordForm(kind=original.definition, system=system, user=owner, original=original)
    assert form["n2_percent"].value() == "97.25"
    assert form["where"].value() == "Vent 2"
    assert form["occurred_at"].value() == "2026-06-01T13:00"


def test_a_correction_leaves_alone_what_nobody_touched(system, owner):
    at = datetime(2026, 5, 30, 9, 15, 42, 123456, tzinfo=UTC)
    original = make_record(
        system, "reading.pressure", at, owner, pressure_gauge_pa=206842.71879504, where="Gauge 1"
    )
    kind = original.definition
    blank = RecordForm(kind=kind, system=system, user=owner, original=original)
    shown = {name: blank[name].value() for name in blank.fields}
    data = MultiValueDict({k: [str(v or "")] for k, v in (shown | {"where": "Gauge 2"}).items()})
    form = RecordForm(data, kind=kind, system=system, user=owner, original=original)
    assert form.is_valid(), form.errors
    assert form.details == {"pressure_gauge_pa": 206842.71879504, "where": "Gauge 2"}
    assert form.occurred_at == at


@pytest.mark.parametrize("typed", ["0.9", "0,9", "78", "50"])
def test_what_air_cannot_read_is_asked_about_and_can_be_kept(system, owner, typed):
    form = form_for(system, owner, "reading.gas", n2_percent=typed)
    assert not form.is_valid()
    assert not form.errors
    assert form["n2_percent"].value() == typed
    (doubt,) = form.doubts
    kept = form_for(
        system, owner, "reading.gas", n2_percent=typed, is_kept="1", asked=doubt.asks
    )  # fmt: skip
    assert kept.is_valid()
    assert "Kept as read" in kept.details["questioned"]


def test_a_regulator_above_the_rated_pressure_is_asked_about(system, owner):
    form = form_for(system, owner, "event.drain_down", regulator_gauge_pa="400 psi")
    form.is_valid()
    assert [doubt.name for doubt in form.doubts] == ["regulator_gauge_pa"]


def test_a_calibration_of_2020_is_asked_about(system, owner):
    form = form_for(
        system, owner, "reading.gas", n2_percent="98.1", analyser_calibrated_on="2020-05-01"
    )
    assert not form.is_valid()
    assert form.doubts[0].name == "analyser_calibrated_on"


def test_a_wall_reading_names_its_run_which_says_role_and_size(system, owner):
    run = make_pipe_run(system, owner)
    answers = {"wall_mm": "2.9 mm", "run": str(run.uuid), "method": "full_scan", "dressed": "yes"}
    form = form_for(system, owner, "reading.wall", **answers)
    assert form.is_valid(), form.errors
    assert form.details["run"] == str(run.uuid)
    assert form.details["run_role"] == run.role
    assert form.details["nominal_size"] == run.nominal_size
    assert check_details(form.kind, form.details)


def test_a_wall_thicker_than_the_run_when_new_is_asked_about(system, owner):
    run = make_pipe_run(system, owner)
    thick = f"{run.wall_mm * 1.3:.2f} mm"
    form = form_for(system, owner, "reading.wall", wall_mm=thick, run=str(run.uuid))
    assert not form.is_valid()
    assert [doubt.name for doubt in form.doubts] == ["wall_mm"]


def wall_form(system, owner, pipe, **answers):
    told = {"wall_mm": "2.9 mm", "run": str(pipe.uuid)} | answers
    return form_for(system, owner, "reading.wall", **told)


@pytest.mark.parametrize(
    ("field", "typed", "would_be_right"),
    [
        ("wall_mm", "0 mm", "A wall of zero is a leak; enter it as one."),
        ("error_mm", "4 mm", "state one standard deviation, such as 0.1 mm."),
    ],
)
def test_a_wall_reading_that_no_pipe_can_have_is_refused_with_what_would_be_right(
    system, owner, field, typed, would_be_right
):
    run = make_pipe_run(system, owner)
    form = wall_form(system, owner, run, **{field: typed, "is_kept": "yes"})
    assert not form.is_valid()
    assert form.errors[field][0].endswith(would_be_right)
    assert form[field].value() == typed


def test_a_wall_read_before_its_pipe_was_put_in_is_asked_about_and_may_be_kept(system, owner):
    run = make_pipe_run(system, owner)
    early = {"occurred_at": f"{run.installed_on.year - 1}-05-31T14:30"}
    asked = wall_form(system, owner, run, **early)
    assert not asked.is_valid()
    assert [doubt.name for doubt in asked.doubts] == ["occurred_at"]
    assert "correct the day of one of the two" in asked.doubts[0].text
    kept = wall_form(system, owner, run, **early, is_kept="yes")
    assert kept.is_valid(), kept.errors
    assert kept.details["questioned"].endswith("Kept as read.")


def test_a_wall_named_by_size_alone_is_held_against_the_run_of_that_size(system, owner):
    run = make_pipe_run(system, owner)
    by_size = {"run": "", "run_role": run.role, "nominal_size": run.nominal_size}
    form = wall_form(system, owner, run, **by_size, error_mm="4 mm")
    assert list(form.errors) == ["error_mm"]
