"""The owner sets what is asked before a reading counts."""

import pytest
from django.urls import reverse
from django.utils import timezone

from registry.models import Job, OwnerPolicy
from registry.owner_ledger import facts_of
from registry.quantities import PSI
from registry.services.register.policies import POLICY_CHANGED
from scheduling.services.accepting import set_acceptance
from scheduling.services.working import WorkError
from tests.factories import NOW, make_system
from tests.jobs import run_waiting
from tests.scheduling.ledger import DAY, accept, read

pytestmark = pytest.mark.django_db
USUAL = {
    "target_n2_percent": "98 %", "wait_minutes": 0, "points": 1, "hold_minutes": 0,
    "hold_fall_pa": "0.5 psi",
}  # fmt: skip


def address(world):
    return reverse("scheduling:rules-acceptance", args=[world.owner_organisation.pk])


def test_nothing_more_than_a_reading_is_asked_until_the_owner_says_so(client, world):
    client.force_login(world.owner)
    page = client.get(reverse("scheduling:rules-owner", args=[world.owner_organisation.pk]))
    assert "asks for nothing more" in page.content.decode()


def test_the_owner_sets_it_and_everybody_may_read_it(client, world):
    client.force_login(world.owner)
    answers = USUAL | {
        "wait_minutes": 10,
        "points": 2,
        "hold_minutes": 15,
        "hold_fall_pa": "0.4 psi",
    }
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
        ({"target_n2_percent": "79"}, "80 %"),
        ({"target_n2_percent": "9.8e1 stone"}, "stone"),
    ],
)
def test_what_cannot_be_asked_is_said_at_its_field(client, world, answers, words):
    client.force_login(world.owner)
    response = client.post(address(world), USUAL | answers)
    assert response.status_code == 200
    assert words in response.content.decode()
    assert not OwnerPolicy.objects.filter(acceptance_hold_minutes__gt=0).exists()


def test_the_service_names_the_field_it_refuses(world):
    with pytest.raises(WorkError) as refused:
        set_acceptance(
            owner=world.owner_organisation, target_n2_percent=98.0, wait_minutes=0, points=99,
            hold_minutes=0, hold_fall_pa=0.0, changed_by=world.owner, now=timezone.now(),
        )  # fmt: skip
    assert "points" in refused.value.problems


def test_another_target_judges_what_was_read_by_it(client, world):
    """A reading of 98.6 % confirms 98 % and contradicts 99.5 %, once the job has run."""
    system = make_system(world.site, world.owner, now=NOW - 20 * DAY)
    accept(system, NOW - 10 * DAY)
    read(system, NOW - 9 * DAY, 98.6)
    assert state_now(system) == "inert"
    client.force_login(world.owner)
    assert client.post(address(world), USUAL | {"target_n2_percent": "99,5"}).status_code == 302
    policy = OwnerPolicy.objects.get(owner=world.owner_organisation)
    assert policy.target_n2_percent == 99.5
    assert facts_of(world.owner_organisation)["policy", str(policy.pk)]["target_n2_percent"] == 99.5
    asked = Job.objects.get(kind=POLICY_CHANGED)
    assert asked.arguments == {"owner": world.owner_organisation.pk}
    run_waiting(POLICY_CHANGED)
    assert state_now(system) != "inert"


def state_now(system) -> str:
    return system.spans.filter(starts_at__lte=NOW).order_by("starts_at").last().state


def test_the_same_target_again_derives_nothing(client, world):
    client.force_login(world.owner)
    assert client.post(address(world), USUAL | {"points": 2}).status_code == 302
    assert not Job.objects.filter(kind=POLICY_CHANGED).exists()
