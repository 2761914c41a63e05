"""The same measurements at every door that takes them: questioned with a one-tap answer where one
is likely, kept where it may be true, and never kept in silence."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from registry.imports.answers import Answers, word_key
from registry.models import InertingRun
from tests.registry.imports.test_check import check
from tests.registry.runs_world import plan_url

pytestmark = pytest.mark.django_db


@pytest.fixture
def signed_in(client, world):
    client.force_login(world.technician)
    return client


GAS = [
    ("0.9", "99.1", True),  # the meter showed oxygen
    ("0,9", "99.1", True),  # comma for point
    ("934", "93.4", False),  # more than all of the gas: never true
    ("78", "78.93", True),  # a meter that leaves argon out
    ("78,0", "78.93", True),
    ("50", "", True),
]


@pytest.mark.parametrize(("typed", "meant", "may_keep"), GAS)
def test_the_plan_of_a_run_asks_about_the_gas(signed_in, system, typed, meant, may_keep):
    page = signed_in.get(plan_url(system), {"start_n2_percent": typed})
    form = page.context["form"]
    assert [doubt.name for doubt in form.doubts] == ["start_n2_percent"]
    assert form.doubts[0].causes and form.may_keep == may_keep
    assert page.context["plan"] is None
    sends = [answer.sends for answer in form.doubts[0].answers]
    assert any(meant in send for send in sends) if meant else sends == []
    shown = page.content.decode()
    assert ("It is right: plan with it" in shown) == may_keep
    if meant:
        answered = signed_in.get(
            plan_url(system), {"start_n2_percent": typed, "instead": sends[0]}
        ).context
        assert not answered["form"].doubts and answered["plan"]
        assert answered["form"].cleaned_data["start_n2_percent"] == pytest.approx(float(meant))


@pytest.mark.parametrize("typed", ["97.5", "97,5", "2.5 % O2"])
def test_a_reading_that_may_well_be_true_is_not_asked_about(signed_in, system, typed):
    context = signed_in.get(plan_url(system), {"start_n2_percent": typed}).context
    assert not context["form"].doubts
    assert context["form"].cleaned_data["start_n2_percent"] == pytest.approx(97.5)


PLANNED = [
    ("fill_pressure_gauge_pa", "400 psi", "above the rated working pressure"),
    ("fill_pressure_gauge_pa", "3000 psi", "cylinder"),
    ("analyser_calibrated_on", "2020-03-01", "calibrated"),
]


@pytest.mark.parametrize(("name", "typed", "said"), PLANNED)
def test_the_plan_of_a_run_asks_about_regulator_and_calibration(
    signed_in, system, name, typed, said
):
    page = signed_in.get(plan_url(system), {name: typed})
    form = page.context["form"]
    assert [doubt.name for doubt in form.doubts] == [name]
    assert said in form.doubts[0].text
    assert page.context["plan"] is None


def test_what_was_kept_travels_into_the_run_and_is_marked(signed_in, system):
    typed = {"analyser_calibrated_on": "2020-03-01"}
    page = signed_in.get(plan_url(system), typed)
    (doubt,) = page.context["form"].doubts
    kept = typed | {"is_kept": "1", "asked": doubt.asks}
    page = signed_in.get(plan_url(system), kept)
    assert page.context["plan"] and not page.context["form"].doubts
    carried = dict(page.context["form"].carried) | {"client_key": page.context["client_key"]}
    begun = signed_in.post(plan_url(system), carried | {"leave": "yes"})
    assert begun.status_code == 302
    started = InertingRun.objects.get().records.get(kind="inerting.started")
    assert "days ago" in started.details["questioned"]
    assert started.details["questioned"].endswith("Kept as read.")


def test_nothing_begins_while_a_question_is_open(signed_in, system):
    page = signed_in.get(plan_url(system), {})
    carried = dict(page.context["form"].carried) | {"client_key": page.context["client_key"]}
    signed_in.post(
        plan_url(system), carried | {"leave": "yes", "analyser_calibrated_on": "2020-03-01"}
    )
    assert not InertingRun.objects.exists()


def test_a_calibration_of_this_year_is_not_asked_about(signed_in, system):
    day = timezone.localdate() - timedelta(days=30)
    context = signed_in.get(plan_url(system), {"analyser_calibrated_on": f"{day}"}).context
    assert context["plan"] and not context["form"].doubts


@pytest.mark.parametrize(
    ("name", "typed", "asked"),
    [
        ("system_gauge_pa", "3000 psi", True),
        ("system_gauge_pa", "200 psi", True),
        ("system_gauge_pa", "60 psi", False),
        ("temperature_k", "-5 °C", True),
        ("temperature_k", "12,5 °C", False),
    ],
)
def test_the_drain_down_helper_asks_about_pressure_and_temperature(
    signed_in, system, name, typed, asked
):
    address = reverse("registry:drain-down", args=[system.pk])
    usual = {"system_gauge_pa": "60 psi", "volume_m3": "2 m3", "temperature_k": "15 °C"}
    page = signed_in.get(address, usual | {name: typed})
    form = page.context["cover_form"]
    assert [doubt.name for doubt in form.doubts] == ([name] if asked else [])
    assert bool(page.context["cover"]) != asked
    if asked:
        assert "It is right: plan with it" in page.content.decode()
        kept = usual | {name: typed, "is_kept": "1", "asked": form.doubts[0].asks}
        assert not signed_in.get(address, kept).context["cover_form"].doubts


IMPORTED = [
    ("Wall", "0.154 mm", "thinner than a gauge"),
    ("Wall", "120 mm", "thicker than any"),
    ("Rated_pressure", "3000 psi", "cylinder"),
    ("Design_pressure", "3000 psi", "cylinder"),
    ("Design_pressure", "300 psi", "above the rated"),
]


@pytest.mark.parametrize(("column", "typed", "said"), IMPORTED)
def test_an_import_asks_and_takes_it_when_a_person_says_so(column, typed, said):
    cells = {"Rated_pressure": "175 psi", column: typed}
    parsed, problems, tally = check(**cells)
    assert parsed is None
    (problem,) = [one for one in problems if one.question.startswith("word:")]
    assert said in problem.wrong and "if it is right, say so" in problem.right
    assert tally.unknown
    name = column.lower()
    answers = Answers(words={word_key(name, typed): typed})
    _, problems, _ = check(answers=answers, **cells)
    assert not [one for one in problems if one.question.startswith("word:")]


@pytest.mark.parametrize(
    ("column", "typed"),
    [("Wall", "3,4 mm"), ("Wall", "0.134 in"), ("Rated_pressure", "12.1 bar"),
     ("Design_pressure", "100 psi")],
)  # fmt: skip
def test_an_import_does_not_ask_about_what_is_usual(column, typed):
    parsed, problems, _ = check(**{"Rated_pressure": "175 psi", column: typed})
    assert parsed is not None and problems == []


@pytest.mark.parametrize(
    ("language", "typed", "meant"),
    [
        ("es", {"start_n2_percent": "93.125"}, ["93125", "93,125"]),
        ("en-gb", {"start_n2_percent": "93,125"}, ["93125", "93.125"]),
        ("es", {"fill_pressure_gauge_pa": "2.068 bar"}, ["2068 bar", "2,068 bar"]),
    ],
)
def test_a_number_with_two_readings_is_asked_about_with_both_one_tap_away(
    signed_in, world, system, language, typed, meant
):
    world.technician.language = language
    world.technician.save()
    (name,) = typed
    page = signed_in.get(plan_url(system), typed)
    (doubt,) = page.context["form"].doubts
    assert [answer.sends for answer in doubt.answers] == [f"{name}={one}" for one in meant]
    assert not page.context["form"].may_keep and page.context["plan"] is None
    answered = signed_in.get(plan_url(system), typed | {"instead": doubt.answers[1].sends})
    assert answered.context["plan"] and not answered.context["form"].doubts
    found = answered.context["form"].cleaned_data[name]
    assert found == pytest.approx({"start_n2_percent": 93.125}.get(name, 206_800))
