"""The worked example of docs/money.md, and what must hold of any prices."""

import math

import numpy as np
import pytest
from django.urls import reverse

from registry.models import OwnerPrices
from registry.money import (
    ASSUMED_LEAK,
    Prices,
    assumed_per_m,
    chance_with,
    chances_by_year,
    expected_a_year,
    expected_by_year,
    money_text,
    prices_of,
)


def test_the_worked_example_of_the_docs():
    assert expected_a_year(0.4, 20_000) == pytest.approx(1600)
    chances = chances_by_year(0.1, 0.4)
    assert chances == pytest.approx([0.1000, 0.0868, 0.0784, 0.0708, 0.0640], abs=6e-5)
    costs = expected_by_year(0.1, 0.4, 20_000)
    assert costs == pytest.approx([2000, 1735, 1568, 1417, 1280], abs=1)
    assert costs.sum() == pytest.approx(8000)
    then = chance_with(0.4, 40, 10)
    assert then == pytest.approx(0.1)
    assert expected_a_year(0.4 - then, 20_000) == pytest.approx(1200)
    assert Prices().replacement("4", 30) == pytest.approx(6600)


@pytest.mark.parametrize("first, last", [(0, 0), (0.2, 0.2), (0.5, 1.0), (1.0, 1.0), (0, 1)])
def test_the_years_add_up_at_the_edges_too(first, last):
    chances = chances_by_year(first, last)
    assert (chances >= -1e-12).all() and chances.sum() == pytest.approx(last)


def test_columns_give_what_single_systems_give():
    together = chances_by_year(np.array([0.1, 0.3]), np.array([0.4, 0.9]))
    assert together[:, 1] == pytest.approx(chances_by_year(0.3, 0.9))


def test_a_measure_that_makes_it_worse_saves_nothing_and_one_that_heals_saves_all():
    assert chance_with(0.4, 40, 60) == pytest.approx(0.4)
    assert chance_with(0.4, 40, 0) == pytest.approx(0)
    assert chance_with(0.4, 100, 40) < 0.4


@pytest.mark.parametrize("size, inches", [("4", 4), ("1-1/4", 1.25), ("1/2", 0.5), ("odd", 2)])
def test_the_assumed_price_of_a_metre_grows_with_the_size(size, inches):
    assert math.isclose(assumed_per_m(size), 60 + 40 * inches)


def test_a_currency_is_the_owners_text_and_never_guessed():
    assert money_text(21300.4) == "21,300"
    assert money_text(21300, "$") == "$21,300"
    assert money_text(21300, "kr") == "kr\u00a021,300"


def test_a_manager_sets_the_prices_and_pages_count_with_them(client, world):
    owner = world.owner_organisation
    assert prices_of([owner.pk])[owner.pk].leak == ASSUMED_LEAK
    client.force_login(world.owner)
    address = reverse("reports:prices", args=[owner.pk])
    assert "25,000 is assumed" in client.get(address).content.decode()
    said = {"currency": "$", "leak_incident": "40000", "reinerting_visit": "2100", "size_0": "30"}
    assert client.post(address, said).status_code == 302
    kept = prices_of([owner.pk])[owner.pk]
    assert (kept.leak, kept.visit, kept.is_assumed, kept.text(1000)) == (
        40_000, 2100, False, "$1,000"
    )  # fmt: skip
    assert kept.per_m("1") == pytest.approx(30 / 0.3048)  # the manager reads feet
    wrong = client.post(address, said | {"leak_incident": "-3"})
    assert wrong.status_code == 200 and OwnerPrices.objects.get().leak_incident == 40_000
