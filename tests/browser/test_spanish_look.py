"""Spanish words are longer: every page still fits a phone and a desk."""

import os
from pathlib import Path

import pytest
from django.urls import reverse

from tests.browser.test_look import DESK, PHONE, READERS, pages_of
from tests.world_objects import make_objects

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

KEPT_IN = os.environ.get("SPANISH_PICTURES", "")
"""A folder for pictures of every page, to be looked at."""


@pytest.mark.parametrize("person", READERS)
def test_every_page_fits_in_spanish(open_page, world, person):
    objects, too_wide = make_objects(world), []
    reader = getattr(world, person)
    reader.language = "es"
    reader.save(update_fields=["language"])
    page = open_page(reader, size=PHONE)
    for name in pages_of(person):
        page.goto(reverse(name, kwargs=objects.get(name)))
        for width, height in (DESK, PHONE):
            page.set_viewport_size({"width": width, "height": height})
            if page.evaluate("document.documentElement.scrollWidth") > width:
                too_wide.append((name, width))
            if KEPT_IN:
                picture = Path(KEPT_IN) / f"{name.replace(':', '-')}-{width}.png"
                page.screenshot(path=picture, full_page=True)
    assert too_wide == []
