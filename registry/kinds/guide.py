"""The list of kinds as the contributor guide shows it: written by `make guide`, never by hand."""

from collections.abc import Iterator
from enum import StrEnum

from registry.kinds import DEFINED_IN, Kind

BEGIN = "<!-- kinds: written by `make guide` -->"
END = "<!-- end of kinds -->"
HEAD = """\
| code | what it is | defined in | air | water | protection | strip |
| --- | --- | --- | --- | --- | --- | --- |"""


def with_kinds(guide: str) -> str:
    """The guide with its list of kinds brought up to date; ValueError where it has no place."""
    before, begin, rest = guide.partition(BEGIN)
    _old, end, after = rest.partition(END)
    if not begin or not end:
        raise ValueError(f"The guide has no place for the kinds, between {BEGIN} and {END}.")
    table = "\n".join([HEAD, *_lines()])
    return f"{before}{BEGIN}\n{table}\n{END}{after}"


def _lines() -> Iterator[str]:
    for module, kinds in DEFINED_IN.items():
        for kind in kinds:
            yield f"| {' | '.join(_cells(kind, module))} |"


def _cells(kind: Kind, module: str) -> tuple[str, ...]:
    return (
        f"`{kind.code}`",
        str(kind.label),
        f"`registry/kinds/{module}.py`",
        "judged" if kind.gas.air else "",
        _meaning(kind.water),
        "judged" if kind.protection else "",
        kind.mark.letter or "○" if kind.mark else "",
    )


def _meaning(meaning: object) -> str:
    """A meaning that holds for every record of the kind, or that its answers decide."""
    if not isinstance(meaning, StrEnum):
        return "by its answers"
    return "" if meaning == "none" else str(meaning)
