"""The same done to several follow-ups: each in its own transaction, each refused by itself."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from django import forms

from registry.kinds import DetailsError
from registry.models import User
from scheduling import services
from scheduling.forms.orders import DAY, TIME, check_year, exists_on_clock, offer
from scheduling.models import Crew, Task


@dataclass(frozen=True)
class Action:
    code: str
    label: str
    done: str
    asks: tuple[str, ...]
    do: Callable[..., Any]


ACTIONS: Mapping[str, Action] = {
    action.code: action
    for action in (
        Action("accept", "Accept", "Accepted", (), services.accept),
        Action("crew", "Give to a crew", "Given to the crew", ("crew",), services.give_to_crew),
        Action(
            "book", "Book one after another", "Booked", ("crew", "day", "begins", "hours"),
            services.book,
        ),
    )
}  # fmt: skip


class BulkForm(forms.Form):
    """What one action needs to know for all of them."""

    crew = forms.ModelChoiceField(Crew.objects.none(), empty_label="No crew chosen")
    day = forms.DateField(widget=DAY, validators=[check_year])
    begins = forms.TimeField(label="The first begins", widget=TIME, initial="08:00")
    hours = forms.FloatField(
        label="Hours for each",
        min_value=0.25,
        max_value=12,
        initial=3,
        help_text="One after another in the order of the list, on the clock of each site.",
    )

    def __init__(self, *args, tasks: Sequence[Task], action: Action, **kwargs):
        super().__init__(*args, **kwargs)
        self.tasks = tasks
        parties = {task.assigned_to_id for task in tasks}
        crews = Crew.objects.filter(organisation__in=parties, is_active=True)
        offer(self, "crew", crews.select_related("organisation"))
        for name in set(self.fields) - set(action.asks):
            del self.fields[name]

    def clean(self):
        answers = super().clean()
        if answers.get("day") and answers.get("begins"):
            zones = {task.zone for task in self.tasks}
            if not all(exists_on_clock(answers["day"], answers["begins"], z) for z in zones):
                self.add_error("begins", "The clocks go forward then; give another hour.")
        return answers

    def answers(self) -> dict[str, Any]:
        return self.cleaned_data if self.is_bound and self.is_valid() else {}


def carry_out(
    action: Action, tasks: Sequence[Task], answers: Mapping[str, Any], *, by: User, now: datetime
) -> tuple[list[str], list[str]]:
    """The tags done, and a sentence for each that was refused."""
    done: list[str] = []
    refused: list[str] = []
    for task in tasks:
        try:
            action.do(task=task, by=by, now=now, **_facts(action, answers, task, len(done)))
        except DetailsError as error:
            refused.append(f"{task.title}, {task.system.tag}: {' '.join(error.problems.values())}")
        else:
            done.append(task.system.tag)
    return done, refused


def _facts(action: Action, answers: Mapping[str, Any], task: Task, before: int) -> dict[str, Any]:
    if action.code != "book":
        return dict(answers)
    first = datetime.combine(answers["day"], answers["begins"], tzinfo=task.zone).astimezone(UTC)
    each = timedelta(hours=answers["hours"])
    starts_at = first + before * each
    return {"crew": answers["crew"], "starts_at": starts_at, "ends_at": starts_at + each}
