"""Columns of the portfolio: what stands in every view, and what a view may add."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from registry.translation import _

MOST = 4


@dataclass(frozen=True)
class Column:
    code: str
    heading: str
    sort: str = ""
    first: str = ""  # the direction of the first press: “-” where most is asked for first
    css: str = ""


USUAL: Sequence[Column] = (
    Column("system", _("System"), "tag"),
    Column("score", _("Score"), "score", "-"),
    Column("change", _("Since last visit")),
    Column("strip", _("Two years, and now"), "atmosphere"),
    Column("late", _("Late or due"), "late"),
    Column("next", _("Next, and its price")),
    Column("loss", _("If left, a year"), "loss", "-", "number"),
)
FURTHER: Sequence[Column] = (
    Column("place", _("Place"), "place"),
    Column("kind", _("Kind"), "kind"),
    Column("protection", _("Protection"), "protection"),
    Column("life", _("Life left"), "life", "", "number"),
    Column("delay", _("Cost of waiting a week"), "delay", "-", "number"),
    Column("oxygen", _("Oxygen"), "oxygen", "-", "number"),
    Column("volume", _("Volume"), "volume", "-", "number"),
    Column("age", _("Age"), "age", "-", "number"),
    Column("replacing", _("Replacing its pipe"), "", "", "number"),
    Column("last_event", _("Last event"), "last_event", "-"),
)
BY_CODE = {column.code: column for column in FURTHER}


def chosen(codes: Iterable[str]) -> list[Column]:
    """The further columns asked for, in their own order; those that there are not are left out."""
    asked = {code for text in codes for code in text.split(",")}
    return [column for column in FURTHER if column.code in asked][:MOST]
