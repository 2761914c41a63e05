"""The owner sets what is asked before a reading counts."""

import pytest
from django.urls import reverse
from django.utils import timezone

from registry.models import OwnerPolicy
from registry.owner_ledger import facts_of
from registry.quantities import PSI
from scheduling.services.accepting import set_acceptance
from scheduling.services.working import WorkError

pytestmark = pytest.mark.django_db


def address(world):
    return reverse("scheduling:rules-acceptance", args=[world.owner_organisation.pk])


def test_nothing_more_than_a_reading_is_asked_until_the_owner_says_so(client, world):
    client.force_login(world.owner)
    page = client.get(reverse("scheduling:rules-owner", args=[world.owner_organisation.pk]))
    assert "asks for nothing more" in page.content.decode()


def test_the_owner_sets_it_and_everybody_may_read_it(client, world):
    client.force_login(world.owner)
    answers = {"wait_minutes": 10, "points": 2, "hold_minutes": 15, "hold_fall_pa": "0.4 psi"}
    assert client.post(address(world), answers).status_code == 302
    policy = OwnerPolicy.objects.get(owner=world.owner_organisation)
    assert policy.acceptance_points == 2
    assert policy.acceptance_hold_fall_pa == pytest.approx(0.4 * PSI)
    facts = facts_of(world.owner_organisation)["policy", str(policy.pk)]
    assert facts["acceptance_wait_minutes"] == 10
    client.force_login(world.technician)
    page = client.get(reverse("scheduling:rules-owner", args=[world.owner_organisation.pk]))
    text = page.content.decode()
    assert "counts 10 minutes after the gas was shut off" in text
    assert "2 points, each named and each at target" in text
    assert "holds for 15 minutes with a fall of 0.4 psi at most" in text


@pytest.mark.parametrize(
    ("answers", "words"),
    [
        ({"points": 0}, "greater than or equal to 1"),
        ({"wait_minutes": 2000}, "less than or equal to 1440"),
        ({"hold_fall_pa": "half"}, "half"),
        ({"hold_minutes": ""}, "hold"),
    ],
)
def test_what_cannot_be_asked_is_said_at_its_field(client, world, answers, words):
    client.force_login(world.owner)
    usual = {"wait_minutes": 0, "points": 1, "hold_minutes": 0, "hold_fall_pa": "0.5 psi"}
    response = client.post(address(world), usual | answers)
    assert response.status_code == 200
    assert words in response.content.decode()
    assert not OwnerPolicy.objects.filter(acceptance_hold_minutes__gt=0).exists()


def test_the_service_names_the_field_it_refuses(world):
    with pytest.raises(WorkError) as refused:
        set_acceptance(
            owner=world.owner_organisation, wait_minutes=0, points=99, hold_minutes=0,
            hold_fall_pa=0.0, changed_by=world.owner, now=timezone.now(),
        )  # fmt: skip
    assert "points" in refused.value.problems
