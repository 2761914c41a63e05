"""Forms made from the table of record kinds: a new kind needs no new form."""

from collections.abc import Iterator, Mapping
from datetime import date, datetime
from typing import Any, cast
from uuid import uuid4

from django import forms
from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from registry.apps import UNANSWERED
from registry.fields import NominalSizeField, QuantityField
from registry.forms.days import DayInput
from registry.forms.doubts import Doubt, DoubtingForm, doubt_of_wall, known_of
from registry.forms.files import FilesField
from registry.forms.held import HoldingForm
from registry.forms.moments import LocalMomentField
from registry.forms.units_and_errors import speak
from registry.kinds import Field, Kind
from registry.kinds.parts import FILES, LEAVE
from registry.models import PipeRun, Record, System, User
from registry.plausibility.table import NEW_WALL
from registry.words.spoken import Spoken

FEW = 5
OF_THE_PIPE = {"run_role": "role", "nominal_size": "nominal_size"}
BEFORE = _(
    "{day:%-d %B %Y} is before {began:%-d %B %Y}, the day of this record; give that or a later day."
)


def quantity_field(field: Field, **common: Any) -> forms.Field:
    dimension = field.dimension or "percent"
    is_share = dimension == "percent" and "n2" not in field.name
    examples = dict.fromkeys(("us", "si"), "20 %") if is_share else None
    return QuantityField(
        dimension=dimension, minimum=field.low, maximum=field.high, examples=examples, **common
    )


def number_field(field: Field, **common: Any) -> forms.Field:
    return forms.FloatField(min_value=field.low, max_value=field.high, **common)


def integer_field(field: Field, **common: Any) -> forms.Field:
    low, high = (None if end is None else int(end) for end in (field.low, field.high))
    return forms.IntegerField(min_value=low, max_value=high, **common)


def choice_field(field: Field, **common: Any) -> forms.Field:
    if common["required"] and len(field.choices) <= FEW:
        return forms.ChoiceField(choices=field.choices, widget=forms.RadioSelect, **common)
    return forms.ChoiceField(choices=[("", gettext("Not recorded")), *field.choices], **common)


def text_field(field: Field, **common: Any) -> forms.Field:
    if field.name == "nominal_size":
        return NominalSizeField(max_length=20, **common)
    return forms.CharField(max_length=500, **common)


def date_field(field: Field, **common: Any) -> forms.Field:
    return forms.DateField(widget=DayInput(), **common)


MAKERS = {
    "quantity": quantity_field,
    "percent": quantity_field,
    "number": number_field,
    "integer": integer_field,
    "choice": choice_field,
    "tri": choice_field,
    "text": text_field,
    "date": date_field,
    "pipe_run": lambda field, **common: forms.ChoiceField(choices=(), **common),
}


class RecordForm(HoldingForm, DoubtingForm):
    """One kind of record about one system; with `original`, a correction that begins as it was."""

    client_key = forms.UUIDField(required=False, widget=forms.HiddenInput)

    def __init__(
        self,
        data=None,
        files=None,
        *,
        kind: Kind,
        system: System,
        user: User,
        original: Record | None = None,
    ):
        super().__init__(data, None if data is None else files, initial=_initial(original))
        self.kind, self.original, self.zone = kind, original, system.site.zone
        self._add_moment(system)
        for field in kind.fields:
            self.fields[field.name] = MAKERS[field.type](
                field, label=field.label, required=field.is_required, help_text=field.help
            )
        self.fields["note"] = forms.CharField(
            required=False, max_length=4000, widget=forms.Textarea(attrs={"rows": 3})
        )
        if files is not None:  # a view that takes files; another would lose them
            self.fields["files"] = FilesField()
        self.hold_for(user)
        self._offer_pipe(system)
        speak(self, user, system.site)
        self.doubt_about(kind.fields, known_of(system), user.display_units)

    def _offer_pipe(self, system: System) -> None:
        """Which run of the register a measurement was made on; it says role and size itself."""
        self._pipe: dict[str, PipeRun] = {}
        if "run" not in self.fields:
            return
        self._pipe = {str(run.uuid): run for run in system.pipe_runs.current()}
        if not self._pipe:
            del self.fields["run"]
            return
        offered = [(key, str(run)) for key, run in self._pipe.items()]
        cast(forms.ChoiceField, self.fields["run"]).choices = [
            ("", gettext("Not one of these")),
            *offered,
        ]
        for name in OF_THE_PIPE:
            self.fields[name].required = False

    def _take_pipe(self, answers: dict[str, Any]) -> None:
        run = self._pipe.get(answers.get("run") or "")
        for name, fact in OF_THE_PIPE.items():
            if name not in self.fields or not self._pipe or name not in answers:
                continue
            told = getattr(run, fact) if run else ""
            if not answers[name] and not told:
                self.add_error(name, UNANSWERED)
            elif told and answers[name] and answers[name] != told:
                self.add_error(
                    name,
                    gettext(
                        "The run chosen above is {run}; choose another, or leave this open."
                    ).format(run=run),
                )
            elif told:
                answers[name] = told

    def _asked_of_pipe(self, answers: Mapping[str, Any]) -> Iterator[Doubt]:
        doubt = doubt_of_wall(answers, list(self._pipe.values()))
        if doubt is None or doubt.field not in self.fields:
            return
        yield Doubt(
            name=doubt.field,
            label=str(self.fields[doubt.field].label),
            typed=str(self[doubt.field].value() or ""),
            text=doubt.text,
            causes=(),
            answers=(),
            can_be_true=doubt.can_be_true,
        )

    def _known_now(self, name: str) -> dict[str, float | None]:
        run = self._pipe.get(self.cleaned_data.get("run") or "")
        return {**self._known, NEW_WALL: run.wall_mm if run else None}

    def _add_moment(self, system: System) -> None:
        site = system.site
        moment = LocalMomentField(
            zone=site.zone,
            which=self.data.get("which", ""),
            label=self.kind.moment,
            help_text=gettext("By the clock at {name} ({time_zone}).").format(
                name=site.name, time_zone=site.time_zone
            ),
        )
        self.fields["occurred_at"] = moment
        if repeats := moment.repeats(self.data.get("occurred_at", "")):
            self.fields["which"] = forms.ChoiceField(
                label=gettext("Which of the two"),
                choices=repeats,
                widget=forms.RadioSelect,
                required=False,
            )

    def clean(self) -> dict[str, Any]:
        answers = super().clean() or {}
        self._take_pipe(answers)
        self._ask_for_leave(answers)
        if when := answers.get("occurred_at"):
            began = when.astimezone(self.zone).date()
            for field in self.kind.fields:
                if field.is_ahead and (day := answers.get(field.name)) and day < began:
                    self.add_error(field.name, BEFORE.format(day=Spoken(day), began=Spoken(began)))
        return answers

    def _ask_for_leave(self, answers: dict[str, Any]) -> None:
        """Planned work is authorised before the valve moves, so whether it was is not left open."""
        if answers.get("planned") != "planned" or LEAVE.name not in self.fields:
            return
        said = answers.get(LEAVE.name)
        if not said and LEAVE.name not in self.errors:
            self.add_error(
                LEAVE.name,
                gettext("Planned work needs the owner's leave first: say whether it was given."),
            )
        if said == "emergency":
            self.add_error(
                LEAVE.name,
                gettext("This says planned ahead, and that was an emergency: choose one of them."),
            )

    @property
    def occurred_at(self) -> datetime:
        """A correction that leaves the time alone keeps seconds, which the field does not show."""
        if self.original and "occurred_at" not in self.changed_data:
            return self.original.occurred_at
        return self.cleaned_data["occurred_at"]

    @property
    def details(self) -> dict[str, Any]:
        return {
            field.name: answer
            for field in self.kind.fields
            if (answer := self._answer(field.name)) not in (None, "")
        } | ({"questioned": self.questioned} if self.questioned else {})

    def _today(self) -> date:
        """A calibration is as old as it was on the day of the record."""
        when = self.cleaned_data.get("occurred_at") or timezone.now()
        return when.astimezone(self.zone).date()

    def _answer(self, name: str) -> Any:
        if self.original and name not in self.changed_data:
            return self.original.details.get(name)
        answer = self.cleaned_data.get(name)  # a system without pipe is not asked for its run
        return answer.isoformat() if isinstance(answer, date) else answer

    def facts(self) -> dict[str, Any]:
        """What the ledger's service needs to know."""
        return {
            "kind": self.kind.code,
            "occurred_at": self.occurred_at,
            "details": self.details,
            "note": self.cleaned_data["note"],
            "client_key": self.cleaned_data["client_key"],
            "files": self.cleaned_data.get("files") or [],
        }


def _initial(original: Record | None) -> dict[str, Any]:
    if original is None:
        return {"client_key": uuid4(), "occurred_at": timezone.now()}
    return {
        **{name: said for name, said in original.details.items() if name != FILES.name},
        "client_key": uuid4(),
        "occurred_at": original.occurred_at,
        "note": original.note,
    }


class WithdrawForm(forms.Form):
    reason = forms.CharField(
        label=_("Why it is withdrawn"),
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_("The record stays in the book, struck through, with this reason beside it."),
    )


class TakeFileBackForm(forms.Form):
    reason = forms.CharField(
        label=_("Why it is taken back"),
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_(
            "It is shown no longer, and is in no package. Its name and digest, who took it back, "
            "when and why stay in the ledger."
        ),
    )
