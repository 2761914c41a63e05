"""Published examples and independent values, one row each in fixtures/published_values.csv."""

import pytest

from registry.corrosion.outside import examples

ROWS = [pytest.param(row, id=row.id) for row in examples()]


@pytest.mark.parametrize("row", ROWS)
def test_agrees_with(row):
    assert row.answer() == pytest.approx(row.expected, abs=row.tolerance + 1e-12)


def test_every_row_says_where_it_comes_from_and_how_it_is_known():
    for row in examples():
        assert row.source and row.how_known, row.id


def test_ids_are_unique():
    ids = [row.id for row in examples()]
    assert len(ids) == len(set(ids))
