"""What has to be known of an outage beside that it is one. What nobody answered is not known, and
is asked for until somebody does.

After NFPA 25 15.5 and 15.6 as a college's safety office restates them: who gave leave for planned
work, who must be told, and a fire watch or an equal measure while it lasts.
"""

from collections.abc import Iterable, Mapping
from typing import Any

PLANNED, LEAVE, TOLD, WATCH = "planned", "leave", "told_all", "fire_watch"
QUESTIONS = (PLANNED, LEAVE, TOLD, WATCH)
REFUSED = {
    LEAVE: "Begun without the owner's leave.",
    TOLD: "Not everybody was told.",
    WATCH: "There is no fire watch.",
}
IN_WORDS = {"told": TOLD, "measures": WATCH}
"""What somebody wrote in words of their own answers these with yes."""

Answers = tuple[tuple[str, str], ...]


def answers_of(details: Mapping[str, Any], by_nature: str = "") -> Answers:
    """Those that were answered; `by_nature` says whether its kind is planned or an emergency."""
    said = {name: str(details.get(name) or "") for name in QUESTIONS}
    for name, question in IN_WORDS.items():
        said[question] = said[question] or ("yes" if details.get(name) else "")
    said[PLANNED] = said[PLANNED] or by_nature
    return tuple((name, answer) for name, answer in said.items() if answer not in ("", "unknown"))


def together(before: Answers, later: Answers) -> Answers:
    return tuple((dict(before) | dict(later)).items())


def is_planned(answers: Answers) -> bool:
    """What is not said to be planned counts as an emergency."""
    return dict(answers).get(PLANNED) == "planned"


def unanswered(answers: Answers) -> tuple[str, ...]:
    """An emergency does not wait for leave."""
    said = dict(answers)
    asked = QUESTIONS if is_planned(answers) else tuple(q for q in QUESTIONS if q != LEAVE)
    return tuple(question for question in asked if question not in said)


def refused(answers: Answers) -> str:
    said = dict(answers)
    return " ".join(words for question, words in REFUSED.items() if said.get(question) == "no")


def of_all(open_ones: Iterable[Answers]) -> tuple[str, ...]:
    """What is not known of one of several outages is not known."""
    missing = {question for answers in open_ones for question in unanswered(answers)}
    return tuple(question for question in QUESTIONS if question in missing)
