"""The steps a person may take with a follow-up, as data: what is asked, what is done, in words."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from scheduling import services
from scheduling.forms.orders import BookForm, CannotForm, CrewChoiceForm, DeclineForm, SeenForm
from scheduling.models import Task, WorkState

State = WorkState


@dataclass(frozen=True)
class WorkStep:
    """`button` is the word on the page; with nothing to ask, pressing it is all there is to do."""

    code: str
    button: str
    title: str
    form: type[SeenForm]
    do: Callable[..., Any]
    done: str
    states: tuple[str, ...]
    is_second: bool = True

    @property
    def asks(self) -> bool:
        return self.form is not SeenForm


_ALL = (
    WorkStep(
        "accept", "Accept", "Accept", SeenForm, services.accept, "Accepted.", (State.OFFERED,),
        is_second=False,
    ),
    WorkStep(
        "book", "Book a time", "Book a time", BookForm, services.book, "Booked.",
        (State.OFFERED, State.ACCEPTED), is_second=False,
    ),
    WorkStep(
        "move", "Move it", "Move the booking", BookForm, services.book, "Moved.", (State.BOOKED,),
    ),
    WorkStep(
        "begin", "Begin", "Begin", SeenForm, services.begin, "Begun.",
        (State.ACCEPTED, State.BOOKED), is_second=False,
    ),
    WorkStep(
        "crew", "Give it to a crew", "Give it to a crew", CrewChoiceForm, services.give_to_crew,
        "Given to the crew.", (State.OFFERED, State.ACCEPTED, State.BOOKED),
    ),
    WorkStep(
        "decline", "Decline", "Decline", DeclineForm, services.decline,
        "Declined; it is back with the owner.", (State.OFFERED, State.ACCEPTED, State.BOOKED),
    ),
    WorkStep(
        "cannot", "It cannot be done", "Say that it cannot be done", CannotForm, services.give_up,
        "Noted; the owner decides what follows.", (State.ACCEPTED, State.BOOKED, State.STARTED),
    ),
)  # fmt: skip

STEPS: Mapping[str, WorkStep] = {step.code: step for step in _ALL}


def steps_for(task: Task) -> list[WorkStep]:
    """What may be done with it as it stands, the likeliest first."""
    if not task.is_open:
        return []
    is_owners = task.assigned_to_id == task.system.site.owner_id
    return [
        step
        for step in _ALL
        if task.work_state in step.states
        and not (step.code == "decline" and is_owners)
        and not (step.code == "crew" and not task.assigned_to.crews.filter(is_active=True).exists())
    ]
