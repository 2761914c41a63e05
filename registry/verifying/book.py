"""All checks over all systems, and what one difference says."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

from django.db.models import QuerySet

from registry.models import System
from registry.verifying.chains import check_chain
from registry.verifying.loading import Held, chunks, load, one_instant
from registry.verifying.pipes import check_pipes
from registry.verifying.register import check_fittings, check_register
from registry.verifying.runs import check_runs

Check = Callable[[Held], Iterable[str]]
"""What does not hold of one system, each as a whole sentence."""

Prepared = Callable[[Sequence[Held]], Check]
"""A check of another app, which reads its rows for many systems at once."""

CHECKS: tuple[Check, ...] = (
    check_chain,
    check_register,
    check_fittings,
    check_pipes,
    check_runs,
)


@dataclass(frozen=True)
class Difference:
    """Something that the records of a system do not confirm."""

    system: System
    what: str

    def __str__(self) -> str:
        return f"{self.system.tag}, {self.system.site.name}: {self.what}"


@dataclass(frozen=True)
class Examined:
    """One system with all that its records do not confirm."""

    system: System
    records: int
    found: tuple[str, ...]

    @property
    def holds(self) -> bool:
        return not self.found


def examined(systems: QuerySet[System], more: Sequence[Prepared] = ()) -> Iterator[Examined]:
    """System by system; each chunk is read and checked as it stood at one instant."""
    for keys in chunks(systems):
        with one_instant():
            done = list(_examine(load(keys), more))
        yield from done


def _examine(chunk: Sequence[Held], more: Sequence[Prepared]) -> Iterator[Examined]:
    checks = (*CHECKS, *(prepare(chunk) for prepare in more))
    for one in chunk:
        found = tuple(what for check in checks for what in check(one))
        yield Examined(one.system, len(one.records), found)


def differences(
    systems: QuerySet[System],
    *,
    more: Sequence[Prepared] = (),
    on_system: Callable[[int], None] | None = None,
) -> Iterator[Difference]:
    """Everything that differs. `on_system` hears how many records each holds."""
    for one in examined(systems, more):
        for what in one.found:
            yield Difference(one.system, what)
        if on_system:
            on_system(one.records)
