"""One row of the library, the editions it belongs to, and the questions its conditions ask."""

from dataclasses import dataclass

from scheduling.recurrence import Anchor, Interval

SYSTEM_KINDS = ("wet", "dry", "preaction", "deluge", "antifreeze")
GROUPS = {
    "inspection": "Inspection",
    "test": "Test",
    "maintenance": "Maintenance",
    "assessment": "Internal assessment",
}
HOW_KNOWN = (
    "read",
    "read, secondary",
    "from memory",
    "common practice, no source",
)
SEASONS = {
    "before_freezing": "Before freezing weather",
    "warm_weather": "In warm weather",
}
CHECK_EDITION = "Check the adopted edition."
GOOD_PRACTICE = "Good practice"


@dataclass(frozen=True, slots=True)
class Condition:
    """A fact about a system that decides which row holds for it."""

    key: str
    question: str


_CONDITIONS = (
    Condition(
        "backflow_only_supply",
        "Does the only supply run through a backflow preventer or a pressure-reducing valve?",
    ),
    Condition("backflow_fitted", "Is a backflow preventer fitted?"),
    Condition("pressure_unattended", "Is the gas pressure without constant supervision?"),
    Condition("valves_only_sealed", "Are the control valves held by seals alone?"),
    Condition("waterflow_mechanical", "Is the waterflow alarm a water motor and gong?"),
    Condition("waterflow_electric", "Is the waterflow alarm a vane or pressure switch?"),
    Condition("quick_opening", "Is a quick-opening device fitted to the dry valve?"),
    Condition("concealed_accessible", "Is there pipe in concealed spaces that can be entered?"),
    Condition("can_freeze", "Is any water-filled part, or the valve room, exposed to frost?"),
    Condition("low_points", "Are there low-point or auxiliary drains?"),
    Condition("pipe_all_plastic", "Is all the pipe plastic?"),
    Condition("generator_fitted", "Is a nitrogen generator fitted?"),
    Condition("analyser_kept", "Is a gas analyser kept with the system?"),
)
CONDITIONS = {condition.key: condition for condition in _CONDITIONS}


@dataclass(frozen=True, slots=True)
class Edition:
    key: str
    standard: str
    year: int
    title: str
    amends: str  # the edition that holds for what this one leaves out
    how_known: str
    note: str


@dataclass(frozen=True, slots=True)
class LibraryItem:
    """What a standard, or practice, asks for, how often, in which editions, and how that is known.

    Rows of one `key` are versions of the same item: by edition, and by condition. A row without
    an interval is done when `trigger` happens, and is never planned. `row` names the row itself.
    """

    row: str
    key: str
    title: str
    group: str
    system_kinds: tuple[str, ...]
    interval: Interval | None
    trigger: str
    before: Interval
    after: Interval
    anchor: Anchor
    season: str
    condition: str
    standard: str
    edition_from: int | None
    edition_to: int | None
    clause: str
    source: str
    how_known: str
    note: str

    def covers(self, edition: Edition) -> bool:
        """Whether the row speaks for an edition; practice speaks beside every one of them."""
        if self.standard not in ("", edition.standard):
            return False
        after_first = self.edition_from is None or self.edition_from <= edition.year
        return after_first and (self.edition_to is None or edition.year <= self.edition_to)

    @property
    def rhythm(self) -> str:
        return self.interval.rhythm if self.interval else self.trigger

    @property
    def systems_text(self) -> str:
        if set(self.system_kinds) == set(SYSTEM_KINDS):
            return "every kind"
        return ", ".join(self.system_kinds)

    @property
    def condition_text(self) -> str:
        return CONDITIONS[self.condition].question if self.condition else ""

    @property
    def season_text(self) -> str:
        return SEASONS.get(self.season, "")

    @property
    def anchor_text(self) -> str:
        return "on fixed days" if self.anchor is Anchor.CALENDAR else "from the last time"

    @property
    def editions(self) -> str:
        """Which editions the row was seen for, or that none was named."""
        if self.edition_from is None and self.edition_to is None:
            return "edition not named"
        if self.edition_to is None:
            return f"editions from {self.edition_from} on"
        if self.edition_from is None:
            return f"editions up to {self.edition_to}"
        return f"editions {self.edition_from} to {self.edition_to}"


@dataclass(frozen=True, slots=True)
class Choice:
    """An item that holds for a system under an edition. `presumed` is the condition nobody has
    answered yet: the stricter row is taken until somebody does."""

    item: LibraryItem
    edition: Edition
    presumed: str = ""

    @property
    def asked_by(self) -> str:
        """On whose word: the edition that the site adopted, with the clause."""
        if not self.item.standard:
            return GOOD_PRACTICE
        return ", ".join(part for part in (self.edition.title, self.item.clause) if part)

    @property
    def how_known(self) -> str:
        return (
            f"{self.item.how_known}; {self.item.editions}"
            if self.item.standard
            else (self.item.how_known)
        )
