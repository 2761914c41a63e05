"""An owner's own numbers: set on the page, kept in the ledger, used by the score."""

import pytest
from django.urls import reverse

from registry.assess import case_at
from registry.kinds import DetailsError
from registry.models import Assessment, Record
from registry.services.assumptions import set_assumption
from tests.factories import NOW, make_pipe_run, make_system

WHY = "Two low points were found dry in May, says Tam."


@pytest.fixture
def dry(world):
    system = make_system(world.site, world.owner, kind="dry", gas_supply="compressor")
    make_pipe_run(system, world.owner)
    return system


def score(system) -> float:
    return Assessment.objects.latest().get(system=system).score


def test_setting_an_assumption_is_a_record_and_moves_the_score(client, dry, owner):
    before = score(dry)
    client.force_login(owner)
    address = reverse("registry:assumptions", args=[dry.pk])
    response = client.post(address, {"key": "drained_share", "value": "0.9", "note": WHY})
    assert response.status_code == 302
    record = Record.objects.get(kind="register.assumption")
    assert record.details == {"key": "drained_share", "value": 0.9, "unit": "1"}
    assert (record.note, record.recorded_by) == (WHY, owner)
    assert score(dry) < before
    page = client.get(address).content.decode()
    assert "<strong>0.9</strong>" in page and WHY in page


def test_leaving_it_empty_goes_back_to_the_models_own(dry, owner):
    own = score(dry)
    for value in (0.001, None):
        set_assumption(
            system=dry, key="wetted_pools", value=value, note=WHY, recorded_by=owner, now=NOW
        )
    assert score(dry) == own
    assert case_at(dry, NOW).input.assumptions.wetted_pools == 0.05


def test_what_is_impossible_is_refused_with_what_would_be_right(client, dry, owner):
    client.force_login(owner)
    address = reverse("registry:assumptions", args=[dry.pk])
    response = client.post(address, {"key": "wetted_pools", "value": "7", "note": WHY})
    html = response.content.decode()
    assert "7 is outside what is possible; it goes from 0 to 1 m/m." in html
    assert WHY in html
    assert not Record.objects.filter(kind="register.assumption").exists()


@pytest.mark.parametrize(
    ("changes", "field"),
    [({"key": "luck"}, "key"), ({"value": -1.0}, "value"), ({"note": " "}, "note")],
)
def test_the_service_names_the_field_that_is_wrong(dry, owner, changes, field):
    facts = {"key": "pool_fill", "value": 0.3, "note": WHY} | changes
    with pytest.raises(DetailsError) as refused:
        set_assumption(system=dry, recorded_by=owner, now=NOW, **facts)
    assert list(refused.value.problems) == [field]


def test_who_may_not_change_the_register_sees_no_form(client, dry, technician):
    client.force_login(technician)
    html = client.get(reverse("registry:assumptions", args=[dry.pk])).content.decode()
    assert "wetted_pools" in html
    assert "<textarea" not in html
