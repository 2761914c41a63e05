"""The two forms of an import: the file, and the answers to what it leaves open."""

import re
from hashlib import blake2b
from typing import Any, cast

from django import forms

from registry.access import managed_owners
from registry.imports.answers import Answers
from registry.models import Organisation, User

MAX_MB = 100
ROW_NUMBERS = re.compile(r" \(rows? [0-9, ]+\)")
WHOLE_FILE = ("date_order", "length_unit", "similar")


class UploadForm(forms.Form):
    owner = forms.ModelChoiceField(
        queryset=Organisation.objects.none(), label="Whose register", empty_label=None
    )
    file = forms.FileField(
        label="Register",
        help_text="CSV or XLSX, one pipe run a row, the columns named in the first row.",
        widget=forms.FileInput(attrs={"accept": ".csv,.txt,.xlsx"}),
        error_messages={"required": "Choose the file first."},
    )

    def __init__(self, *args: Any, user: User, **kwargs: Any):
        super().__init__(*args, **kwargs)
        owners = managed_owners(user)
        field = cast(forms.ModelChoiceField, self.fields["owner"])
        field.queryset, field.initial = owners, owners.first()
        if owners.count() == 1:
            field.widget = forms.HiddenInput()

    def clean_file(self) -> Any:
        file = self.cleaned_data["file"]
        if file.size > MAX_MB * 1024 * 1024:
            raise forms.ValidationError(
                f"The file has {file.size / 1048576:,.0f} MB; at most {MAX_MB} MB are read. "
                "Keep only the sheet of the register, or split it."
            )
        return file


class AnswersForm(forms.Form):
    """One field a question; what is left open stays open and is never guessed."""

    def __init__(
        self, *args: Any, questions: list[dict[str, Any]], answers: Answers, **kwargs: Any
    ):
        super().__init__(*args, **kwargs)
        self.answers = answers
        self.names = {_field_name(question["name"]): question["name"] for question in questions}
        for question in questions:
            self.fields[_field_name(question["name"])] = self._field(question)
        self.alike = _alike(questions)
        options = {question["name"]: question["options"] for question in questions}
        for name, (said, names) in self.alike.items():
            self.fields[name] = _field_for_many(said, names, options[names[0]])

    def _field(self, question: dict[str, Any]) -> forms.ChoiceField:
        name = question["name"]
        is_whole_file = name in WHOLE_FILE
        given = getattr(self.answers, name) if is_whole_file else self.answers.choices.get(name)
        options = [tuple(option) for option in question["options"]]
        return forms.ChoiceField(
            label=question["words"],
            required=False,
            choices=options if is_whole_file else [("", "Leave open"), *options],
            widget=forms.RadioSelect if is_whole_file else forms.Select,
            initial=given or "",
            help_text=" ".join(filter(None, (question["evidence"], question["proposed"]))),
        )

    @property
    def open_count(self) -> int:
        """Questions that nobody has answered yet."""
        return sum(not self.fields[name].initial for name in self.names)

    @property
    def whole_file(self) -> list[forms.BoundField]:
        return [self[name] for name, meant in self.names.items() if meant in WHOLE_FILE]

    @property
    def per_system(self) -> list[dict[str, Any]]:
        """Contradictions keep rows out and stand open on the page; the rest can wait, folded."""
        fields = {name: meant for name, meant in self.names.items() if meant not in WHOLE_FILE}
        supplies = [self[name] for name, meant in fields.items() if meant.startswith("gas_supply")]
        conflicts = [
            self[name] for name, meant in fields.items() if not meant.startswith("gas_supply")
        ]
        return [
            {"words": "Rows that contradict each other", "fields": conflicts, "is_open": True},
            {
                "words": "Gas supplies the rows leave open",
                "fields": supplies,
                "is_open": False,
                "for_many": [self[name] for name in self.alike],
            },
        ]

    def to_answers(self) -> Answers:
        given = {meant: self.cleaned_data[name] for name, meant in self.names.items()}
        for name, (_, alike) in self.alike.items():
            for meant in alike:
                given[meant] = given[meant] or self.cleaned_data[name]
        choices = {name: value for name, value in given.items() if name not in WHOLE_FILE}
        kept = self.answers.choices | choices
        return Answers(
            date_order=given.get("date_order") or self.answers.date_order,
            length_unit=given.get("length_unit") or self.answers.length_unit,
            similar=given.get("similar") or self.answers.similar,
            choices={name: value for name, value in kept.items() if value},
        )


def _field_for_many(said: str, names: list[str], options: list[list[str]]) -> forms.ChoiceField:
    return forms.ChoiceField(
        label=f"All {len(names)} systems whose rows say “{said}”",
        required=False,
        choices=[("", "Answer each below"), *((value, words) for value, words in options)],
        help_text="Goes to those below that are left open.",
    )


def _alike(questions: list[dict[str, Any]]) -> dict[str, tuple[str, list[str]]]:
    """Questions about gas supplies whose rows say the same: field name, what they say, which."""
    said: dict[str, list[str]] = {}
    for question in questions:
        if question["name"].startswith("gas_supply"):
            said.setdefault(ROW_NUMBERS.sub("", question["evidence"]), []).append(question["name"])
    return {
        f"all-{blake2b(words.encode(), digest_size=8).hexdigest()}": (words, names)
        for words, names in said.items()
        if len(names) > 1
    }


def _field_name(question: str) -> str:
    """Stable, and fit for an id whatever a system is called."""
    if question in WHOLE_FILE:
        return question
    return f"choice-{blake2b(question.encode(), digest_size=8).hexdigest()}"
