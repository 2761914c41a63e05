"""What the risk page says would help is ordered from where it stands."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from registry.services.assessments import assess_system
from scheduling.models import Task
from tests.browser.conftest import PHONE
from tests.factories import make_pipe_run, make_system

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.mark.parametrize("size", [(1280, 800), PHONE])
def test_inerting_is_ordered_at_its_measure(open_page, world, size):
    then = timezone.now() - timedelta(days=400)
    system = make_system(world.site, world.owner, tag="NQ-101", now=then)
    make_pipe_run(system, world.owner, now=then)
    assess_system(system, timezone.now())
    page = open_page(world.owner, size=size)
    page.goto(reverse("reports:risk", args=[system.pk]))
    measure = page.locator(".measures tr", has_text="Make it inert now and keep it so")
    order = measure.get_by_role("link", name="Order it")
    box = order.bounding_box()
    assert box["x"] >= 0 and box["x"] + box["width"] <= size[0]
    order.click()
    page.get_by_role("button", name="Order it").click()
    page.get_by_text("is ordered from").wait_for()
    assert page.url.endswith(reverse("reports:risk", args=[system.pk]))
    assert page.get_by_role("link", name="Order it").count() == 0
    assert Task.objects.open().filter(system=system, kind="reinerting_order").exists()
