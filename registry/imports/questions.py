"""What a file leaves open, as questions: one for each decision, never one for each row."""

from collections.abc import Container

from django.utils.translation import gettext

from registry.corrosion.dimensions import schedules
from registry.imports.answers import APART, REPEAT, TO_FIX, TOGETHER, Question
from registry.imports.column_questions import column_questions, sheet_questions, values_of
from registry.imports.columns import in_words
from registry.imports.dates import DMY, MDY, ORDER_WORDS
from registry.imports.editions import offered
from registry.imports.numerals import COMMA, POINT, with_point
from registry.imports.problems import counted
from registry.imports.survey import Survey
from registry.imports.tally import Word, some
from registry.imports.vocabulary import LEAVE_OUT, Ask
from registry.models import PipeRun
from registry.quantities import SIZES
from registry.translation import _

UNITS = {
    "length": (("m", "metres"), ("ft", "feet")),
    "wall": (("mm", "millimetres"), ("in", "inches")),
    "outside_diameter": (("mm", "millimetres"), ("in", "inches")),
    "rated_pressure": (("bar", "bar"), ("psi", "psi"), ("kPa", "kPa")),
    "design_pressure": (("bar", "bar"), ("psi", "psi"), ("kPa", "kPa")),
}
ASKED_IF_EMPTY = ("site", "kind", "role", "material", "schedule", "installed")
AMOUNTS = ("length", "wall", "rated_pressure", "design_pressure")
LEAVE = (LEAVE_OUT, _("No pipe of the book: leave these rows out"))


def questions(
    survey: Survey, similar: int = 0, known: Container[tuple[str, str]] = ()
) -> list[Question]:
    """Those about the whole file first, then those about one system each.

    The gas supply of a `known` system is not asked: the register has it, and is where to change it.
    """
    asked = [
        *sheet_questions(survey),
        *column_questions(survey),
        *_gaps(survey),
        *_same_tags(survey),
        *_empty(survey),
        *_decimal(survey),
        *_dates(survey),
        *_units(survey),
        *_words(survey),
        *_similar(similar),
        *_leaks(survey),
        *_edition(),
    ]
    per_system = [
        question
        for key, plan in survey.plans.items()
        for question in plan.questions
        if key not in known or not question.is_only_a_fact
    ]
    return asked + sorted(per_system, key=lambda question: question.is_only_a_fact)


def _gaps(survey: Survey) -> list[Question]:
    found = survey.conventions
    if not found.gaps and not survey.answers.blanks_above:
        return []
    return [
        Question(
            "blanks_above",
            gettext("Do rows without a system go on with the system above them?"),
            (
                (REPEAT, gettext("Yes: what is empty repeats what stands above")),
                (TO_FIX, gettext("No: give these rows back to be fixed")),
            ),
            (
                gettext("%(counted)s without a system, the first is row %(gap_row)s.")
                % {"counted": counted(found.gaps, "row"), "gap_row": found.gap_row}
            )
            if found.gaps
            else gettext("Answered before."),
            suggestion=REPEAT,
            rows=found.gaps,
            option="--blanks-above",
        )
    ]


def _same_tags(survey: Survey) -> list[Question]:
    """Only where some tag is found in two buildings of a site."""
    conflicts = [
        (key, conflict)
        for key, plan in survey.plans.items()
        for conflict in plan.conflicts
        if conflict.question == "same_tags"
    ]
    if not conflicts and not survey.answers.same_tags:
        return []
    tags = ", ".join(sorted({key[1].upper() for key, _ in conflicts})[:5])
    return [
        Question(
            "same_tags",
            gettext(
                "Some tags are found in several buildings of a site. Are these different systems?"
            ),
            (
                (APART, gettext("Yes: write the building before the tag")),
                (TOGETHER, gettext("No: each is one system, and I choose its building below")),
            ),
            f"{counted(len(conflicts), 'tag')}: {tags}." if tags else gettext("Answered before."),
            rows=len(conflicts),
            option="--same-tags",
        )
    ]


def _empty(survey: Survey) -> list[Question]:
    asked = []
    for name in ASKED_IF_EMPTY:
        count, answer = survey.tally.blanks[name], survey.answers.blank.get(name)
        if name in survey.mapping.missing or not (count or answer):
            continue
        if not survey.answers.blanks_above and count <= survey.conventions.gaps and not answer:
            continue  # the question of the rows without a system settles these
        asked.append(
            Question(
                f"blank:{name}",
                (
                    gettext("The %(label)s is not said in %(counted)s. What holds there?")
                    % {
                        "counted": counted(count or survey.rows, "row"),
                        "label": in_words(name),
                    }
                ),
                (*values_of(name), LEAVE) if name != "schedule" else values_of(name),
                gettext("Left open they come back to be fixed."),
                rows=count,
                option=(gettext("--blank %(name)s=VALUE") % {"name": name}),
                is_typed=True,
            )
        )
    return [*asked, *_schedules_of_others(survey)]


def _schedules_of_others(survey: Survey) -> list[Question]:
    """What was said of the schedule is of steel, and some rows are of another material."""
    given = {name: 0 for name in survey.answers.blank if name.startswith("schedule:")}
    counts = {
        name: survey.tally.blanks[name]
        for name in survey.tally.blanks
        if name.startswith("schedule:")
    }
    asked = []
    for name, count in (given | counts).items():
        material = name.removeprefix("schedule:")
        label = str(PipeRun.Material(material).label).lower()
        asked.append(
            Question(
                f"blank:{name}",
                (
                    gettext(
                        "The schedule is not said in %(counted)s of %(label)s. What holds there?"
                    )
                    % {"counted": counted(count, "row"), "label": label}
                ),
                tuple((made, made) for made in schedules(material)),
                gettext("What was said of the others is of steel pipe."),
                rows=count,
                option=(gettext("--blank %(name)s=VALUE") % {"name": name}),
                is_typed=True,
            )
        )
    return asked


def _decimal(survey: Survey) -> list[Question]:
    tally, found = survey.tally, survey.conventions
    if not tally.open_numbers and not survey.answers.decimal:
        return []
    example = next(iter(tally.open_numbers), "1.234")
    proofs = " ".join(f"{proof} says {form}." for form, proof in found.proof.items())
    suggestion = "" if proofs else _usual_decimal(survey)
    return [
        Question(
            "decimal",
            gettext("Which sign parts the decimals in this file?"),
            tuple(
                (
                    form,
                    (
                        gettext("The %(form)s: %(example)s is %(with_point)s")
                        % {
                            "form": form,
                            "example": example,
                            "with_point": with_point(example, form),
                        }
                    ),
                )
                for form in (COMMA, POINT)
            ),
            some(tally.open_numbers) if tally.open_numbers else gettext("Answered before."),
            proofs
            or (
                (gettext("Usual here is the %(suggestion)s.") % {"suggestion": suggestion})
                if suggestion
                else ""
            ),
            suggestion,
            sum(tally.open_numbers.values()),
            "--decimal",
        )
    ]


def _usual_decimal(survey: Survey) -> str:
    """Feet go with the point, most languages of the continent with the comma; common practice."""
    if survey.mapping.units.get("length") == "ft" or survey.answers.length_unit == "ft":
        return POINT
    languages = survey.mapping.languages
    return COMMA if languages and "en" not in languages else ""


def _dates(survey: Survey) -> list[Question]:
    tally = survey.tally
    if not tally.ambiguous_dates and not survey.answers.date_order:
        return []
    proofs, proposed, suggestion = tally.date_orders, "", ""
    if len(proofs) == 1:
        suggestion, count = next(iter(proofs.items()))
        proposed = gettext("%(counted)s can only be %(order_words)s: %(date_proofs)s.") % {
            "counted": counted(count, "other date"),
            "order_words": ORDER_WORDS[suggestion],
            "date_proofs": tally.date_proofs[suggestion],
        }
    elif proofs:
        proposed = gettext(
            "The file has dates that can only be the one and dates that can only be the other."
        )
    elif survey.mapping.languages and "en" not in survey.mapping.languages:
        proposed, suggestion = (
            gettext("Usual in the language of the headings is the day first."),
            DMY,
        )
    return [
        Question(
            "date_order",
            gettext("Which order do dates such as 3/4/2001 have in this file?"),
            (
                (DMY, gettext("day/month/year: 3 April 2001")),
                (MDY, gettext("month/day/year: 4 March 2001")),
            ),
            some(tally.ambiguous_dates) if tally.ambiguous_dates else gettext("Answered before."),
            proposed,
            suggestion,
            sum(tally.ambiguous_dates.values()),
            "--date-order",
        )
    ]


def _units(survey: Survey) -> list[Question]:
    asked = []
    for name, options in UNITS.items():
        bare, answer = survey.tally.bare.get(name), survey.answers.unit_of(name)
        if not bare and not answer:
            continue
        label = in_words(name)
        key = "length_unit" if name == "length" else f"unit:{name}"
        words = (
            gettext("In which unit are the lengths that have none?")
            if name == "length"
            else (gettext("In which unit is the %(label)s where it has none?") % {"label": label})
        )
        asked.append(
            Question(
                key,
                words,
                options,
                some(bare) if bare else gettext("Answered before."),
                rows=sum(bare.values()) if bare else 0,
                option="--length-unit"
                if name == "length"
                else (gettext("--unit %(name)s=UNIT") % {"name": name}),
            )
        )
    return asked


def _words(survey: Survey) -> list[Question]:
    answered = survey.answers.words
    words = sorted(survey.tally.unknown.items(), key=lambda item: -item[1].count)
    return [_word(key, word) for key, word in words if key not in answered]


def _word(key: str, word: Word) -> Question:
    ask = (word.error and word.error.ask) or Ask("", (), "")
    options = _word_options(word.column, ask)
    why = ask.why or (
        word.error.wrong[:1].upper() + word.error.wrong[1:] + "." if word.error else ""
    )
    proposed = dict(options).get(ask.proposed, ask.proposed)
    typed = "”, “".join(word.others or [word.typed])
    return Question(
        f"word:{key}",
        (
            gettext("What does “%(typed)s” mean as %(label)s?")
            % {"typed": typed, "label": in_words(word.column)}
        ),
        options,
        (
            gettext("%(counted)s, the first is row %(row)s. %(why)s")
            % {"counted": counted(word.count, "row"), "row": word.row, "why": why}
        ),
        gettext("Perhaps %(proposed)s.") % {"proposed": proposed}
        if proposed and word.column not in ("tag", *AMOUNTS)
        else "",
        ask.proposed,
        word.count,
        (gettext("--word %(key)s=OURS") % {"key": key}),
        is_typed=word.column in ("tag", *AMOUNTS, "schedule", "nominal_size"),
    )


def _word_options(field: str, ask: Ask) -> tuple[tuple[str, str], ...]:
    if field in AMOUNTS:
        return tuple(
            (typed, (gettext("Right as it is: %(typed)s") % {"typed": typed}))
            for typed in ask.options
        ) + (LEAVE,)
    if field == "tag":
        return (LEAVE,)
    if field == "nominal_size":
        first = [(size, f"{size} in") for size in ask.options]
        return (*first, *((s, f"{s} in") for s in SIZES if s not in ask.options), LEAVE)
    every = dict(values_of(field))
    first = [(option, every[option]) for option in ask.options if option in every]
    return (*first, *(item for item in every.items() if item not in first), LEAVE)


def _similar(similar: int) -> list[Question]:
    if not similar:
        return []
    return [
        Question(
            "similar",
            gettext(
                "Some rows look like pipe runs that are in the register already, with "
                "another length, wall or date. Are they further pipe, or the same pipe "
                "corrected?"
            ),
            (
                ("leave", gettext("The same pipe: leave them out, I correct the register there")),
                ("add", gettext("Further pipe: add them")),
            ),
            counted(similar, "row"),
            rows=similar,
            option="--add-similar",
        )
    ]


def _leaks(survey: Survey) -> list[Question]:
    return [
        Question(
            "leaks_known_since",
            gettext("Since when would leaks of these systems be known to you?"),
            (("installed", gettext("Since each was installed: nothing would have been missed")),),
            gettext(
                "Years before that count neither for nor against the pipe. Left open, "
                "they are known from the day of loading on."
            ),
            option="--leaks-known-since",
            is_typed=True,
        )
    ]


def _edition() -> list[Question]:
    choices = offered()
    if not choices:
        return []
    return [
        Question(
            "adopted_edition",
            gettext("Which edition is adopted where these systems stand?"),
            choices,
            gettext(
                "Recurring work follows from it. A site that has adopted one keeps it; "
                "left open, nothing is asked for until somebody adopts one there. The "
                "authority decides."
            ),
            option="--adopted-edition",
        )
    ]
