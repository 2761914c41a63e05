"""What a file leaves open, as questions: one for each decision, never one for each row."""

from collections.abc import Container

from registry.imports.answers import APART, REPEAT, TO_FIX, TOGETHER, Question
from registry.imports.cells import CHOICES
from registry.imports.columns import LABELS, match_heading
from registry.imports.dates import DMY, MDY, ORDER_WORDS
from registry.imports.mapping import Field
from registry.imports.numerals import COMMA, POINT, with_point
from registry.imports.problems import counted
from registry.imports.survey import Survey
from registry.imports.tally import Word, some
from registry.imports.vocabulary import LEAVE_OUT, Ask
from registry.imports.walls import USUAL
from registry.quantities import SIZES

UNITS = {
    "length": (("m", "metres"), ("ft", "feet")),
    "wall": (("mm", "millimetres"), ("in", "inches")),
    "outside_diameter": (("mm", "millimetres"), ("in", "inches")),
    "rated_pressure": (("bar", "bar"), ("psi", "psi"), ("kPa", "kPa")),
    "design_pressure": (("bar", "bar"), ("psi", "psi"), ("kPa", "kPa")),
}
SCHEDULES = (
    ("40", "Schedule 40"), ("10", "Schedule 10"),
    (USUAL, "Schedule 40 up to 2 in, 10 above (common practice)"), ("light", "Light wall"),
    ("EN-medium", "European, medium series"), ("EN-heavy", "European, heavy series"),
    ("EN-thin", "European, thin welded"),
)  # fmt: skip
ASKED_IF_EMPTY = ("site", "kind", "role", "material", "schedule", "installed")
AMOUNTS = ("length", "wall", "rated_pressure", "design_pressure")
LEAVE = (LEAVE_OUT, "No pipe of the book: leave these rows out")


def questions(
    survey: Survey, similar: int = 0, known: Container[tuple[str, str]] = ()
) -> list[Question]:
    """Those about the whole file first, then those about one system each.

    The gas supply of a `known` system is not asked: the register has it, and is where to change it.
    """
    asked = [
        *_sheet(survey), *_columns(survey), *_gaps(survey), *_same_tags(survey), *_empty(survey),
        *_decimal(survey), *_dates(survey), *_units(survey), *_words(survey),
        *_similar(similar), *_leaks(survey),
    ]  # fmt: skip
    per_system = [
        question
        for key, plan in survey.plans.items()
        for question in plan.questions
        if key not in known or not question.is_only_a_fact
    ]
    return asked + sorted(per_system, key=lambda question: question.is_only_a_fact)


def _sheet(survey: Survey) -> list[Question]:
    """Asked only where another sheet could be the register as well."""
    layout = survey.table.layout
    rivals = [name for name, known in layout.others if known >= layout.parts[0].headings.known - 2]
    if not survey.answers.sheet and not (rivals and layout.parts[0].headings.known):
        return []
    names = [*layout.sheet_names, *(name for name, _ in layout.others)]
    if len(names) < 2:
        return []
    options = [(name, name) for name in names]
    return [
        Question(
            "sheet", "Which sheet is the register?",
            (("*", "All that have the same columns"), *options),
            f"Read now: {', '.join(layout.sheet_names)}.", option="--sheet",
        )
    ]  # fmt: skip


def _columns(survey: Survey) -> list[Question]:
    fields = survey.mapping.fields
    asked = [_two_meanings(one, survey) for one in fields if one.how == "asked"]
    covered = {name for one in fields if one.how == "asked" for name in one.may_be}
    for name in survey.mapping.missing:
        if name not in covered:
            asked.append(_missing(name, survey))
    return asked


def _two_meanings(one: Field, survey: Survey) -> Question:
    labels = " or ".join(LABELS[name].lower() for name in one.may_be)
    return Question(
        f"column:{one.key}",
        f"Does “{one.key}” hold the {labels}?",
        (*((name, LABELS[name]) for name in one.may_be), ("", "Neither: leave it out")),
        f"It holds {_listed(one.examples)}.",
        f"Its cells look like {LABELS[one.proposed].lower()}." if one.proposed else "",
        one.proposed, survey.rows, f"--column {one.proposed or one.may_be[0]}={one.key!r}",
    )  # fmt: skip


def _missing(name: str, survey: Survey) -> Question:
    """No heading names it: a column of the file may, or one value holds for every row."""
    free = [one for one in survey.mapping.fields if not one.name and one.examples
            and one.how not in ("ours",)]  # fmt: skip
    if name == "site":  # a list of one estate may name its buildings and no site
        free = [one for one in survey.mapping.fields if one.name == "building"] + free
    proposed = next((one.key for one in free if one.proposed == name), "")
    above = _said_above(name, survey)
    only = survey.table.layout.titles[:1] if name == "site" and not above else []
    options = [
        (f"column:{one.key}", f"Column “{one.key}”: {_listed(one.examples)}") for one in free
    ]
    options = [(f"all:{text}", f"All rows: {text}") for text in [*above, *only]] + options
    options += [(f"all:{value}", f"All rows: {label}") for value, label in _values(name)]
    evidence = f"Above the table stands “{(above or only)[0][:80]}”." if above or only else ""
    suggestion = f"column:{proposed}" if proposed else f"all:{above[0]}" if above else ""
    return Question(
        f"missing:{name}",
        f"No column is known to hold the {LABELS[name].lower()}. Which one does, or what holds for "
        "every row?",
        tuple(options), evidence,
        f"The cells of “{proposed}” look like it." if proposed else "",
        suggestion, survey.rows,
        f"--column {name}=HEADING, or --blank {name}=VALUE", is_typed=True,
    )  # fmt: skip


def _said_above(name: str, survey: Survey) -> list[str]:
    """“Site: North Quay” in a line above the table."""
    found = []
    for text in survey.table.layout.titles:
        label, sign, value = text.partition(":")
        if sign and value.strip() and name in match_heading(label).columns:
            found.append(value.strip()[:100])
    return found[:1]


def _values(name: str) -> tuple[tuple[str, str], ...]:
    if name == "schedule":
        return SCHEDULES
    return tuple(choice for choice in CHOICES.get(name, ()))


def _gaps(survey: Survey) -> list[Question]:
    found = survey.conventions
    if not found.gaps and not survey.answers.blanks_above:
        return []
    return [
        Question(
            "blanks_above",
            "Do rows without a system go on with the system above them?",
            ((REPEAT, "Yes: what is empty repeats what stands above"),
             (TO_FIX, "No: give these rows back to be fixed")),
            f"{counted(found.gaps, 'row')} without a system, the first is row {found.gap_row}."
            if found.gaps else "Answered before.",
            suggestion=REPEAT, rows=found.gaps, option="--blanks-above",
        )
    ]  # fmt: skip


def _same_tags(survey: Survey) -> list[Question]:
    """Only where some tag is found in two buildings of a site."""
    conflicts = [(key, conflict) for key, plan in survey.plans.items()
                 for conflict in plan.conflicts if conflict.question == "same_tags"]  # fmt: skip
    if not conflicts and not survey.answers.same_tags:
        return []
    tags = ", ".join(sorted({key[1].upper() for key, _ in conflicts})[:5])
    return [
        Question(
            "same_tags",
            "Some tags are found in several buildings of a site. Are these different systems?",
            ((APART, "Yes: write the building before the tag"),
             (TOGETHER, "No: each is one system, and I choose its building below")),
            f"{counted(len(conflicts), 'tag')}: {tags}." if tags else "Answered before.",
            rows=len(conflicts), option="--same-tags",
        )
    ]  # fmt: skip


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
                f"{counted(count or survey.rows, 'row')} say nothing of the "
                f"{LABELS[name].lower()}. What holds for them?",
                (*_values(name), LEAVE) if name != "schedule" else _values(name),
                "Left open they come back to be fixed.",
                rows=count, option=f"--blank {name}=VALUE", is_typed=True,
            )
        )  # fmt: skip
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
            "Which sign parts the decimals in this file?",
            tuple((form, f"The {form}: {example} is {with_point(example, form)}")
                  for form in (COMMA, POINT)),
            some(tally.open_numbers) if tally.open_numbers else "Answered before.",
            proofs or (f"Usual here is the {suggestion}." if suggestion else ""), suggestion,
            sum(tally.open_numbers.values()), "--decimal",
        )
    ]  # fmt: skip


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
        proposed = (
            f"{counted(count, 'other date')} can only be {ORDER_WORDS[suggestion]}: "
            f"{tally.date_proofs[suggestion]}."
        )
    elif proofs:
        proposed = (
            "The file has dates that can only be the one and dates that can only be the other."
        )
    elif survey.mapping.languages and "en" not in survey.mapping.languages:
        proposed, suggestion = "Usual in the language of the headings is the day first.", DMY
    return [
        Question(
            "date_order",
            "Which order do dates such as 3/4/2001 have in this file?",
            ((DMY, "day/month/year: 3 April 2001"), (MDY, "month/day/year: 4 March 2001")),
            some(tally.ambiguous_dates) if tally.ambiguous_dates else "Answered before.",
            proposed, suggestion, sum(tally.ambiguous_dates.values()), "--date-order",
        )
    ]  # fmt: skip


def _units(survey: Survey) -> list[Question]:
    asked = []
    for name, options in UNITS.items():
        bare, answer = survey.tally.bare.get(name), survey.answers.unit_of(name)
        if not bare and not answer:
            continue
        label = LABELS[name].lower()
        key = "length_unit" if name == "length" else f"unit:{name}"
        words = (
            "In which unit are the lengths that have none?"
            if name == "length"
            else f"In which unit is the {label} where it has none?"
        )
        asked.append(
            Question(
                key, words, options, some(bare) if bare else "Answered before.",
                rows=sum(bare.values()) if bare else 0,
                option="--length-unit" if name == "length" else f"--unit {name}=UNIT",
            )
        )  # fmt: skip
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
        f"What does “{typed}” mean as {LABELS[word.column].lower()}?",
        options, f"{counted(word.count, 'row')}, the first is row {word.row}. {why}",
        f"Perhaps {proposed}." if proposed and word.column not in ("tag", *AMOUNTS) else "",
        ask.proposed, word.count, f"--word {key}=OURS",
        is_typed=word.column in ("tag", *AMOUNTS, "schedule", "nominal_size"),
    )  # fmt: skip


def _word_options(field: str, ask: Ask) -> tuple[tuple[str, str], ...]:
    if field in AMOUNTS:
        return tuple((typed, f"Right as it is: {typed}") for typed in ask.options) + (LEAVE,)
    if field == "tag":
        return (LEAVE,)
    if field == "nominal_size":
        first = [(size, f"{size} in") for size in ask.options]
        return (*first, *((s, f"{s} in") for s in SIZES if s not in ask.options), LEAVE)
    every = dict(_values(field))
    first = [(option, every[option]) for option in ask.options if option in every]
    return (*first, *(item for item in every.items() if item not in first), LEAVE)


def _similar(similar: int) -> list[Question]:
    if not similar:
        return []
    return [
        Question(
            "similar",
            "Some rows look like pipe runs that are in the register already, with another "
            "length, wall or date. Are they further pipe, or the same pipe corrected?",
            (("leave", "The same pipe: leave them out, I correct the register there"),
             ("add", "Further pipe: add them")),
            counted(similar, "row"), rows=similar, option="--add-similar",
        )
    ]  # fmt: skip


def _leaks(survey: Survey) -> list[Question]:
    return [
        Question(
            "leaks_known_since",
            "Since when would leaks of these systems be known to you?",
            (("installed", "Since each was installed: nothing would have been missed"),),
            "Years before that count neither for nor against the pipe. Left open, they are known "
            "from the day of loading on.",
            option="--leaks-known-since", is_typed=True,
        )
    ]  # fmt: skip


def _listed(examples: list[str]) -> str:
    return ", ".join(f"“{text}”" for text in examples[:3]) or "nothing"
