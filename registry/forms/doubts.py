"""Forms that ask before they take a measurement which can hardly be true.

What was typed stays in its field. The person answers with one tap what was meant, or keeps it as
it is; either way the record says that it was asked about.
"""

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, cast

from django import forms
from django.http import QueryDict
from django.utils import timezone
from django.utils.translation import gettext, override

from registry.assess.books import Pipe
from registry.assess.clock import years
from registry.assess.evidence import WallDoubt, measured_run, wall_doubt
from registry.fields import OpenNumber, QuantityField
from registry.kinds import Field
from registry.models import PipeRun, System
from registry.plausibility import Judged, judge, says, sense_of
from registry.plausibility.table import DIMENSIONS, NITROGEN, RATED, WATER_FILLED
from registry.quantities import format_quantity, input_text

INSTEAD, KEPT, ASKED = "instead", "is_kept", "asked"


@dataclass(frozen=True)
class Answered:
    """A one-tap answer: its words, and what the button sends."""

    words: str
    sends: str


@dataclass(frozen=True)
class Doubt:
    """What is asked about one field."""

    name: str
    label: str
    typed: str
    text: str
    causes: tuple[str, ...]
    answers: tuple[Answered, ...]
    can_be_true: bool
    field_id: str = ""

    @property
    def asks(self) -> str:
        """What a person who keeps it was asked about; another number is asked about anew."""
        return f"{self.name}={self.typed}"


def known_of(system: System) -> dict[str, float | None]:
    """What the limits are held against, as far as the register knows it."""
    return {
        RATED: system.rated_pressure_gauge_pa,
        WATER_FILLED: 0.0 if system.is_gas_filled else 1.0,
    }


def doubt_of_wall(answers: Mapping[str, Any], runs: Sequence[PipeRun]) -> WallDoubt | None:
    """Why a reading would not be used on the run that it is of, before it is logged."""
    told = {name: answer for name, answer in answers.items() if answer not in (None, "")}
    if not {"wall_mm", "occurred_at"} <= told.keys():
        return None
    pipes = [cast(Pipe, run) for run in runs]  # of one form, as evidence reads them
    run = measured_run(told, pipes)
    return None if run is None else wall_doubt(told, pipes[run], years(told["occurred_at"]))


def _kept_words(says: str) -> str:
    with override("en"):
        return gettext("{says} Kept as read.").format(says=says)


class DoubtingForm(forms.Form):
    """Mixed into a form of a kind's fields; `doubt_about` makes it ask."""

    doubts: tuple[Doubt, ...] = ()
    questioned = ""

    def doubt_about(
        self, fields: Iterable[Field], known: Mapping[str, float | None], units: str
    ) -> None:
        senses = {field.name: sense for field in fields if (sense := sense_of(field))}
        self.hold_against(senses, known, units)
        for name in self._senses:
            if isinstance(field := self.fields.get(name), QuantityField):
                field.offer_units()
        self._typed_before = self._take_answer()

    def hold_against(
        self, senses: Mapping[str, str], known: Mapping[str, float | None], units: str
    ) -> None:
        """Fields by name, each with the limits it is held against."""
        self._senses, self._known, self._units = dict(senses), known, units
        for name, sense in self._senses.items():
            field = self.fields.get(name)
            if isinstance(field, QuantityField) and sense == NITROGEN:
                field.is_nitrogen, field.maximum = True, None

    @property
    def for_phone(self) -> str:
        """JSON: by which limits of the table a phone holds each field, and against what."""
        return json.dumps({"senses": self._senses, "known": dict(self._known)})

    def _take_answer(self) -> tuple[str, Any] | None:
        """The one-tap answer goes into its field; what was typed there is remembered."""
        name, _, meant = str(self.data.get(INSTEAD, "")).partition("=")
        if name not in self._senses or name not in self.fields or not meant:
            return None
        before = self[name].value()
        data = cast(QueryDict, self.data).copy()
        data[name] = meant
        data.pop(f"{name}_unit", None)
        self.data = data
        return name, before

    def clean(self) -> dict[str, Any]:
        answers = super().clean() or {}
        found = [
            (name, judged)
            for name in self._senses
            if (judged := self._judged(name, answers.get(name)))
        ]
        of_pipe = [*self._asked_of_pipe(answers)]
        refused = {other.name for other in of_pipe if not other.can_be_true}
        found = [(name, judged) for name, judged in found if name not in refused]
        others = [other for other in of_pipe if other.name not in dict(found)]
        asked = [*(self._doubt(name, judged) for name, judged in found), *others]
        self.doubts = tuple(doubt for doubt in asked if not self._is_kept(doubt))
        stored = [*map(self._stored_words, found), *(_kept_words(other.text) for other in others)]
        self.doubts += tuple(self._open_numbers())
        self.questioned = " ".join([*self._answered_words(), *stored])
        for doubt in asked:
            if not doubt.can_be_true:
                self.add_error(doubt.name, doubt.text)
        return answers

    def is_valid(self) -> bool:
        return super().is_valid() and not self.doubts

    @property
    def may_keep(self) -> bool:
        return all(doubt.can_be_true for doubt in self.doubts)

    def _asked_of_pipe(self, answers: Mapping[str, Any]) -> Iterable[Doubt]:
        """For forms that know the pipe which a measurement was made on."""
        return ()

    def _known_now(self, name: str) -> Mapping[str, float | None]:
        """For forms in which an answer says what another is held against."""
        return self._known

    def _today(self) -> date:
        return timezone.localdate()

    def _judged(self, name: str, value: Any) -> Judged | None:
        if isinstance(value, date):
            value = float((self._today() - value).days)
        if not isinstance(value, float):
            return None
        return judge(self._senses[name], value, self._known_now(name))

    def _is_kept(self, doubt: Doubt) -> bool:
        asked = self.data.getlist(ASKED) if hasattr(self.data, "getlist") else []
        is_answered = KEPT in self.data and (not asked or doubt.asks in asked)
        return is_answered and doubt.can_be_true

    def _doubt(self, name: str, judged: Judged) -> Doubt:
        dimension = DIMENSIONS.get(judged.limit.sense, "")
        return Doubt(
            name=name,
            label=str(self.fields[name].label),
            typed=str(self[name].value() or ""),
            text=says(judged, self._units),
            causes=tuple(str(cause) for cause in judged.limit.causes),
            answers=tuple(
                Answered(
                    str(said.words).format(
                        answer=format_quantity(said.value, dimension, self._units)
                    ),
                    f"{name}={input_text(said.value, dimension, self._units)}",
                )
                for said in judged.suggestions
            ),
            can_be_true=judged.limit.can_be_true,
            field_id=self[name].id_for_label,
        )

    def _open_numbers(self) -> Iterator[Doubt]:
        """What could be two numbers, each of them one tap away; the field says so already."""
        for name in self._senses:
            errors = self.errors[name].as_data() if name in self.errors else []
            for error in errors:
                if isinstance(error, OpenNumber):
                    answers = tuple(Answered(meant, f"{name}={meant}") for meant in error.meant)
                    yield Doubt(
                        name=name,
                        label=str(self.fields[name].label),
                        typed=str(self[name].value() or ""),
                        text=str(error.message),
                        causes=(),
                        answers=answers,
                        can_be_true=False,
                        field_id=self[name].id_for_label,
                    )

    def _stored_words(self, found: tuple[str, Judged]) -> str:
        with override("en"):
            return _kept_words(says(found[1], self._units))

    def _answered_words(self) -> list[str]:
        """What a one-tap answer put right; nothing if the typed value was none to ask about."""
        if self._typed_before is None:
            return []
        name, before = self._typed_before
        try:
            judged = self._judged(name, self.fields[name].clean(before))
        except forms.ValidationError:
            return []
        if judged is None:
            return []
        with override("en"):
            return [gettext("{typed} was typed first.").format(typed=before)]


class PlanningForm(DoubtingForm):
    """A plan that is worked out while it is typed, and asks before it takes what can hardly be
    true. What the person kept travels on with the answers."""

    def take(
        self,
        opening: Mapping[str, Any],
        typed: Mapping[str, Any],
        senses: Mapping[str, str],
        known: Mapping[str, float | None],
        units: str,
    ) -> None:
        data = QueryDict(mutable=True)
        data.update(opening)
        for name in typed:
            values = typed.getlist(name) if isinstance(typed, QueryDict) else [typed[name]]
            data.setlist(name, values)
        self.data = data
        self.hold_against(senses, known, units)
        self._typed_before = self._take_answer()

    @property
    def kept(self) -> list[tuple[str, str]]:
        """That the person kept what was asked about, for the next form that is sent."""
        data = cast(QueryDict, self.data)
        if KEPT not in data:
            return []
        return [(KEPT, "1"), *((ASKED, asked) for asked in data.getlist(ASKED))]
