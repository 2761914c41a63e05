"""All checks over all systems, and what one difference says."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

from django.db.models import QuerySet

from registry.models import System
from registry.verifying.chains import check_chain
from registry.verifying.loading import Held, held
from registry.verifying.pipes import check_pipes
from registry.verifying.register import check_fittings, check_register
from registry.verifying.runs import check_runs
from registry.verifying.spans import check_spans

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
    check_spans,
)


@dataclass(frozen=True)
class Difference:
    """Something that the records of a system do not confirm."""

    system: System
    what: str

    def __str__(self) -> str:
        return f"{self.system.tag}, {self.system.site.name}: {self.what}"


def differences(
    systems: QuerySet[System],
    *,
    more: Sequence[Prepared] = (),
    on_system: Callable[[int], None] | None = None,
) -> Iterator[Difference]:
    """Everything that differs, system by system. `on_system` hears how many records each holds."""
    for chunk in held(systems):
        checks = (*CHECKS, *(prepare(chunk) for prepare in more))
        for one in chunk:
            for check in checks:
                for what in check(one):
                    yield Difference(one.system, what)
            if on_system:
                on_system(len(one.records))
