"""The same done to several follow-ups: each in its own transaction, each refused by itself."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from registry.kinds import DetailsError
from registry.models import User
from scheduling import services
from scheduling.forms.orders import DAY, TIME, check_year, exists_on_clock, offer
from scheduling.models import Crew, Task
from scheduling.planning.filling import fill_days
from scheduling.planning.said.hours import minute_of


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
            "book", "Fill the days of a crew", "Booked",
            ("crew", "day", "begins", "hours", "reason"), services.book,
        ),
    )
}  # fmt: skip


class BulkForm(forms.Form):
    """What one action needs to know for all of them."""

    crew = forms.ModelChoiceField(Crew.objects.none(), empty_label="No crew chosen")
    day = forms.DateField(widget=DAY, validators=[check_year])
    begins = forms.TimeField(
        label=_("Leaves at, on the first day"),
        widget=TIME,
        required=False,
        help_text=_("Empty: when the crew's hours begin."),
    )
    hours = forms.FloatField(
        label=_("Hours for each"),
        min_value=0.25,
        max_value=12,
        required=False,
        help_text=_("Empty: by the kind of work and the volume of the system."),
    )
    reason = forms.CharField(
        label=_("Reason"),
        required=False,
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=_("Needed only for what would be late."),
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


@dataclass
class Outcome:
    """The tags done, a sentence for each that was refused, and what else is to be said."""

    done: list[str] = field(default_factory=list)
    refused: list[str] = field(default_factory=list)
    said: list[str] = field(default_factory=list)


def carry_out(
    action: Action, tasks: Sequence[Task], answers: Mapping[str, Any], *, by: User, now: datetime
) -> Outcome:
    if action.code == "book":
        return _fill(tasks, answers, by, now)
    outcome = Outcome()
    for task in tasks:
        _try(outcome, action, task, by=by, now=now, **answers)
    return outcome


def _try(outcome: Outcome, action: Action, task: Task, **facts: Any) -> None:
    try:
        done = action.do(task=task, **facts)
    except DetailsError as error:
        outcome.refused.append(
            f"{task.title}, {task.system.tag}: {' '.join(error.problems.values())}"
        )
    else:
        outcome.done.append(task.system.tag)
        outcome.said += [f"{task.system.tag}: {remark}" for remark in done.remarks]


def _fill(tasks: Sequence[Task], answers: Mapping[str, Any], by: User, now: datetime) -> Outcome:
    hours, begins = answers["hours"], answers["begins"]
    filled = fill_days(
        tasks, answers["crew"], answers["day"], now=now,
        sets_out=minute_of(begins) if begins else None,
        minutes=round(hours * 60) if hours else None,
    )  # fmt: skip
    outcome = Outcome(refused=list(filled.left), said=list(filled.later))
    for one in filled.placed:
        _try(
            outcome, ACTIONS["book"], one.task, by=by, now=now, crew=answers["crew"],
            starts_at=one.starts_at, ends_at=one.ends_at, reason=answers["reason"],
        )  # fmt: skip
    return outcome
