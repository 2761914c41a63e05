"""Why a score changed between two days: what each sort of change contributed, adding up exactly."""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from registry.corrosion.assess import assess_many
from registry.corrosion.columns import batch_from
from registry.corrosion.decisions import SOON
from registry.corrosion.inputs import SystemInput
from registry.corrosion.shapley import shapley_values

GROUPS: Final[tuple[tuple[str, str, tuple[str, ...]], ...]] = (
    ("time", "Time passed", ("now_yr",)),
    (
        "events",
        "Events on record, and what they let expect",
        ("spans", "water", "future_fills_per_year", "future_oxygen"),
    ),
    (
        "evidence",
        "Field evidence",
        ("walls", "coupons", "leaks", "found_wet", "found_clear", "signs"),
    ),
    ("watched", "Years watched for leaks", ("book_began_yr",)),
    (
        "register",
        "The register was corrected or the pipe changed",
        (
            "kind", "installed_yr", "runs", "pressure_pa", "temperature_k", "atmosphere_pa",
            "dissolved_oxygen_kg_m3", "is_vented", "consequence_class", "sulphate_kg_m3",
        ),
    ),
    ("assumptions", "Assumptions", ("assumptions",)),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Step:
    """What one sort of change did to the score."""

    code: str
    text: str
    points: float


def bridge(before: SystemInput, after: SystemInput) -> tuple[Step, ...]:
    """Steps from the score before to the score after, both by this version of the model.

    Notes: time passes first, as it was then expected to and with nobody watching; the other sorts
    share what is left by their Shapley values, so that their order does not matter and the sum is
    exact. Where runs changed, evidence that names them comes with them.
    """
    groups = [(code, text, names) for code, text, names in GROUPS if _differs(before, after, names)]
    if _differs(before, after, ("runs",)):
        groups = _with_their_runs(groups)
    splits_watch = before.now_yr != after.now_yr
    groups += [("watched", "Years watched for leaks", ())] * (
        splits_watch and all(code != "watched" for code, _, _ in groups)
    )
    passed = [one for one in groups if one[0] == "time"]
    others = [one for one in groups if one[0] != "time"]
    masks = range(1 << len(others))
    sets: list[list[Group]] = [[], *([*passed, *_chosen(others, mask)] for mask in masks)]
    inputs = [_mixed(before, after, chosen) for chosen in sets]
    score = assess_many(batch_from(inputs), horizons=SOON, precision=np.float64).score
    points = [*([score[1] - score[0]] * len(passed)), *shapley_values(score[1:])]
    in_order = zip([*passed, *others], points, strict=True)
    return tuple(Step(code, text, float(one)) for (code, text, _), one in in_order)


Group = tuple[str, str, tuple[str, ...]]


def _differs(before: SystemInput, after: SystemInput, names: tuple[str, ...]) -> bool:
    return any(getattr(before, name) != getattr(after, name) for name in names)


def _with_their_runs(groups: list[Group]) -> list[Group]:
    """Readings name rows of runs, so they go with the runs they were taken on."""
    named = next((names for code, _, names in groups if code == "evidence"), ())
    return [
        (code, text, (*names, *named) if code == "register" else names)
        for code, text, names in groups
        if code != "evidence"
    ]


def _chosen(groups: list[Group], mask: int) -> list[Group]:
    return [one for at, one in enumerate(groups) if mask >> at & 1]


def _mixed(before: SystemInput, after: SystemInput, chosen: list[Group]) -> SystemInput:
    """The system of before with the chosen groups of after; not watched beyond what was chosen."""
    names = [name for _, _, names in chosen for name in names]
    values = {name: getattr(after, name) for name in names}
    is_watched = any(code == "watched" for code, _, _ in chosen)
    until = after.now_yr if is_watched else before.now_yr
    return replace(before, **values, watched_until_yr=until)
