"""The two forms of an import: the file, and the answers to what it leaves open."""

import re
from hashlib import blake2b
from typing import Any, cast

from django import forms
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from registry.access import managed_owners
from registry.imports.answering import given_before, with_answers
from registry.imports.answers import Answers
from registry.imports.columns import COLUMNS
from registry.imports.dates import read_date
from registry.imports.problems import CellError
from registry.models import Organisation, User

MAX_MB = 100
ROW_NUMBERS = re.compile(r" \(rows? [^)]*\)")
FORMS = (
    "decimal",
    "date_order",
    "length_unit",
    "blanks_above",
    "same_tags",
    "similar",
    "leaks_known_since",
)


class UploadForm(forms.Form):
    owner = forms.ModelChoiceField(
        queryset=Organisation.objects.none(),
        label=gettext_lazy("Whose register"),
        empty_label=None,
    )
    file = forms.FileField(
        label=gettext_lazy("Register"),
        help_text=gettext_lazy(
            "CSV or XLSX, one pipe run a row. Headings, sheets and spelling may be your own."
        ),
        widget=forms.FileInput(attrs={"accept": ".csv,.txt,.tsv,.xlsx,.xlsm"}),
        error_messages={"required": gettext_lazy("Choose the file first.")},
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
                _(
                    "The file has %(size)s MB; at most %(most)s MB are read. "
                    "Keep only the sheet of the register, or split it."
                )
                % {"size": f"{file.size / 1048576:,.0f}", "most": MAX_MB}
            )
        return file


class AnswersForm(forms.Form):
    """One field a decision; what is left open stays open and is never guessed."""

    def __init__(self, *args: Any, outcome: dict[str, Any], answers: Answers, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.answers, self.outcome = answers, outcome
        asked = outcome.get("questions", [])
        self.questions = [one for one in asked if not one["name"].startswith("column:")]
        self.column_asks = {one["name"]: one for one in asked if one["name"].startswith("column:")}
        self.names = {field_name(one["name"]): one["name"] for one in self.questions}
        self._add_layout()
        self.columns = self._add_columns()
        for question in self.questions:
            self._add_question(question)
        self.alike = _alike(self.questions)
        options = {question["name"]: question["options"] for question in self.questions}
        for name, (said, names) in self.alike.items():
            self.fields[name] = _field_for_many(said, names, options[names[0]])

    def _add_layout(self) -> None:
        """The sheet is a question of its own where it is open, and can be changed at any time."""
        sheets = self.outcome.get("sheets", [])
        if len(sheets) > 1 and "sheet" not in self.names.values():
            choices = [("", _("As read now: %(names)s") % {"names": self.outcome["sheet"]}),
                       ("*", _("All that have the same columns")),
                       *((name, name) for name in sheets)]  # fmt: skip
            self.fields["sheet"] = forms.ChoiceField(
                label=_("Sheet"), choices=choices, required=False, initial=self.answers.sheet or ""
            )
        rows = [str(row["number"]) for row in self.outcome.get("peek", [])]
        if rows:
            self.fields["header_row"] = forms.ChoiceField(
                label=_("The row that names the columns"),
                choices=[(row, row) for row in rows],
                required=False,
                initial=str(self.outcome.get("header_row", "")),
                widget=forms.RadioSelect,
            )

    def _add_columns(self) -> list[dict[str, Any]]:
        """A select for each column of the file that holds anything."""
        rows = []
        choices = [("", _("leave out")), *((one.name, one.label) for one in COLUMNS)]
        for at, one in enumerate(self.outcome.get("fields", [])):
            name = f"col-{at}"
            is_open = one["how"] == "asked"
            self.fields[name] = forms.ChoiceField(
                label=one["key"],
                required=False,
                choices=[("?", _("choose")), *choices] if is_open else choices,
                initial="?" if is_open else one["name"],
            )
            ask = self.column_asks.get(f"column:{one['key']}")
            rows.append({**one, "name_now": one["name"], "name": name, "is_open": is_open,
                         "ask": ask, "field": self[name]})  # fmt: skip
        return rows

    def _add_question(self, question: dict[str, Any]) -> None:
        name, key = question["name"], field_name(question["name"])
        options = [tuple(option) for option in question["options"]]
        given = given_before(self.answers, name)
        values = {value for value, _label in options}
        is_form = name in FORMS and len(options) < 4
        open_choice = [("", _("Leave open"))]
        if options:
            chosen = given if given in values else f"all:{given}" if given else ""
            self.fields[key] = forms.ChoiceField(
                label=question["words"],
                required=False,
                choices=options if is_form and not question["is_typed"] else open_choice + options,
                widget=forms.RadioSelect if is_form else forms.Select,
                initial=chosen if chosen in values else "",
                help_text=" ".join(filter(None, (question["evidence"], question["proposed"]))),
            )
        if question["is_typed"]:
            self.fields[f"{key}-typed"] = forms.CharField(
                label=_("Or written: %(question)s") % {"question": question["words"]},
                required=False,
                max_length=150,
                initial="" if given in values or f"all:{given}" in values else given,
            )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        key = f"{field_name('leaks_known_since')}-typed"
        if typed := cleaned.get(key):
            try:
                read_date(typed, today=timezone.now().date())
            except CellError as error:
                self.add_error(key, f"“{typed}”: {error.wrong}. {error.right}")
        return cleaned

    @property
    def open_count(self) -> int:
        """Questions that keep rows out and that nobody has answered yet."""
        return sum(1 for one in self.outcome.get("questions", []) if one["rows"])

    @property
    def sections(self) -> list[dict[str, Any]]:
        """The questions from top to bottom as the page asks them; empty sections are left out."""
        sorts = (
            (_("Columns that are missing"), ("missing", "sheet")),
            (_("Words the book does not know"), ("word",)),
            (_("Cells that are empty"), ("blank", "blanks_above", "same_tags")),
            (_("How numbers and days are written"), ("decimal", "date_order", "length_unit",
                                                     "unit")),
            (_("What the register knows already"), ("similar",)),
            (_("What no row says"), ("leaks_known_since", "adopted_edition")),
        )  # fmt: skip
        made = []
        for words, names in sorts:
            asked = [self._bound(q) for q in self.questions if q["name"].split(":")[0] in names]
            if asked:
                made.append({"words": words, "questions": asked})
        return made

    def _bound(self, question: dict[str, Any]) -> dict[str, Any]:
        key = field_name(question["name"])
        typed = f"{key}-typed"
        return question | {
            "field": self[key] if key in self.fields else None,
            "typed_field": self[typed] if typed in self.fields else None,
        }

    @property
    def per_system(self) -> list[dict[str, Any]]:
        """Contradictions keep rows out and stand open on the page; the rest can wait, folded."""
        shown = {q["name"].split(":")[0] for s in self.sections for q in s["questions"]}
        left = {f: n for f, n in self.names.items() if n.split(":")[0] not in shown}
        supplies = [self[name] for name, meant in left.items() if meant.startswith("gas_supply")]
        conflicts = [
            self[name] for name, meant in left.items() if not meant.startswith("gas_supply")
        ]
        return [
            {"words": _("Rows that contradict each other"), "fields": conflicts, "is_open": True},
            {
                "words": _("Gas supplies the rows leave open"),
                "fields": supplies,
                "is_open": False,
                "for_many": [self[name] for name in self.alike],
            },
        ]

    def to_answers(self) -> Answers:
        given: dict[str, str] = {}
        for name, meant in self.names.items():
            typed = self.cleaned_data.get(f"{name}-typed", "")
            given[meant] = typed or self.cleaned_data.get(name, "")
        for name, (_said, alike) in self.alike.items():
            for meant in alike:
                given[meant] = given[meant] or self.cleaned_data[name]
        for row in self.columns:
            chosen = self.cleaned_data.get(row["name"], "?")
            if row["name"] in self.data and chosen not in ("?", row["name_now"]):
                given[f"column:{row['key']}"] = chosen
        if (sheet := self.cleaned_data.get("sheet")) and "sheet" not in given:
            given["sheet"] = sheet
        header = self.cleaned_data.get("header_row")
        if header and header != str(self.outcome.get("header_row", "")):
            given["header_row"] = header
        return with_answers(self.answers, given)

    def proposals(self) -> Answers:
        """Every proposal of the page taken at once, where nothing was answered."""
        given = {
            one["name"]: one["suggestion"]
            for one in self.outcome.get("questions", [])
            if one["suggestion"] and not given_before(self.answers, one["name"])
        }
        return with_answers(self.answers, given)

    @property
    def proposal_count(self) -> int:
        return sum(
            1
            for one in self.outcome.get("questions", [])
            if one["suggestion"] and not given_before(self.answers, one["name"])
        )


def _field_for_many(said: str, names: list[str], options: list[list[str]]) -> forms.ChoiceField:
    label = ngettext(
        "%(count)s system whose rows say “%(said)s”",
        "All %(count)s systems whose rows say “%(said)s”",
        len(names),
    )
    return forms.ChoiceField(
        label=label % {"count": len(names), "said": said},
        required=False,
        choices=[("", _("Answer each below")), *((value, words) for value, words in options)],
        help_text=_("Goes to those below that are left open."),
    )


def _alike(questions: list[dict[str, Any]]) -> dict[str, tuple[str, list[str]]]:
    """Questions about gas supplies whose rows say the same: field name, what they say, which."""
    said: dict[str, list[str]] = {}
    for question in questions:
        if question["name"].startswith("gas_supply:"):
            said.setdefault(ROW_NUMBERS.sub("", question["evidence"]), []).append(question["name"])
    return {
        f"all-{blake2b(words.encode(), digest_size=8).hexdigest()}": (words, names)
        for words, names in said.items()
        if len(names) > 1
    }


def field_name(question: str) -> str:
    """Stable, and fit for an id whatever a system is called."""
    if question in FORMS or question == "sheet":
        return question
    return f"choice-{blake2b(question.encode(), digest_size=8).hexdigest()}"
