"""What a fixture writes, kept: the services write it once, then its rows are put back per test."""

from collections.abc import Callable
from copy import deepcopy
from typing import Any

from django.apps import apps
from django.db.models import Model

Rows = dict[type[Model], dict[Any, Model]]


class Kept:
    """Rows that `make` added to the database, changed in it or took out of it."""

    written: dict[type[Model], list[Model]] | None = None

    def __init__(self, make: Callable):
        self.make = make

    def __call__(self, *args):
        """As `make(*args)`; the arguments must be the same rows each time, as kept ones are."""
        return self.take(*args) if self.written is None else self.put_back()

    def take(self, *args):
        """Call `make` in earnest and note what came of it."""
        before = _all_rows()
        self.made = deepcopy(made := self.make(*args))
        after = _all_rows()
        self.written, self.gone = _without(after, before), _without(before, after)
        return made

    def put_back(self):
        """The same rows with the same keys, and objects of one's own to change.

        Both databases check foreign keys at the end of a transaction, so order is of no account.
        """
        for model, rows in self.gone.items():
            found = model._base_manager.filter(pk__in=[row.pk for row in rows])
            found._raw_delete(found.db)
        for model, rows in self.written.items():
            model._base_manager.bulk_create(rows)
        return deepcopy(self.made)


def _all_rows() -> Rows:
    return {
        model: {row.pk: row for row in model._base_manager.all()}
        for model in apps.get_models(include_auto_created=True)
        if model._meta.managed and not model._meta.proxy
    }


def _without(rows: Rows, other: Rows) -> dict[type[Model], list[Model]]:
    """Those of `rows` that are not in `other`, or not so; tables with none are left out."""
    found = {
        model: [row for pk, row in kept.items() if _differs(row, other[model].get(pk))]
        for model, kept in rows.items()
    }
    return {model: kept for model, kept in found.items() if kept}


def _differs(row: Model, other: Model | None) -> bool:
    names = [field.attname for field in row._meta.concrete_fields]
    return other is None or any(getattr(row, name) != getattr(other, name) for name in names)
