"""How unclear entries were read: every guess in words, before anything is loaded."""

from collections import Counter

from registry.imports.columns import LABELS
from registry.imports.numerals import COMMA, POINT
from registry.imports.problems import counted
from registry.imports.survey import Survey

OTHER = {COMMA: "point", POINT: "comma"}
DATE_NOTES = {
    "century": "years of two digits were read as the last year that ended so",
    "serial": "numbers were read as a spreadsheet program's number of a day",
    "span": "spans of years were read as about their first year",
}


def notices(survey: Survey) -> list[str]:
    return [
        *survey.table.notices, *_sheets(survey), *_columns(survey), *_passed(survey),
        *_numbers(survey), *_dates(survey), *_rest(survey),
    ]  # fmt: skip


def _sheets(survey: Survey) -> list[str]:
    layout, found = survey.table.layout, []
    if len(layout.parts) > 1:
        found.append(f"{len(layout.parts)} sheets with the same columns were read as one.")
    if layout.others:
        names = ", ".join(f"“{name}”" for name, _ in layout.others)
        found.append(f"Not read: the sheets {names}." if len(layout.others) > 1
                     else f"Not read: the sheet {names}.")  # fmt: skip
    if layout.parts[0].headings.row > 1:
        found.append(f"Row {layout.header_row} was taken for the headings.")
    if layout.parts[0].headings.lines > 1:
        found.append("The headings were read from two lines.")
    return found


def _columns(survey: Survey) -> list[str]:
    fields = survey.mapping.real
    found = [
        f"“{one.key}” was read as {LABELS[one.name].lower()}: {one.why}."
        for one in survey.mapping.fields
        if one.how == "taken" and one.name
    ]
    aside = [
        f"“{one.key}”" for one in fields if not one.name and one.how != "asked" and one.examples
    ]
    if aside:
        found.append(f"These columns were not read: {', '.join(aside)}.")
    return found


def _passed(survey: Survey) -> list[str]:
    passed, found = survey.passed, []
    words = {"total": "for totals", "line": "for lines of text", "heading": "for repeated headings"}
    for sort, count in passed.counts.items():
        examples = ", ".join(passed.examples[sort])
        found.append(f"{counted(count, 'row')} passed over, taken {words[sort]}: {examples}.")
    if passed.dittos:
        found.append(f"{counted(passed.dittos, 'ditto mark')} repeat the cell above.")
    if passed.repeated:
        found.append(f"{counted(passed.repeated, 'empty cell')} repeat the cell above.")
    found += [f"{counted(count, 'row')} left out as you said: {word}."
              for word, count in survey.left_out.items()]  # fmt: skip
    return found


def _numbers(survey: Survey) -> list[str]:
    conventions, found = survey.conventions, []
    form = conventions.decimal
    if form and conventions.has_open_numbers and not survey.answers.decimal:
        found.append(
            f"The {form} was taken for the decimal sign, and the {OTHER[form]} for the sign of "
            f"thousands: {conventions.proof[form]} can only be read so."
        )
    if conventions.size_reason:
        found.append(f"Sizes without a unit were read as DN: {conventions.size_reason}.")
    for unit, count in survey.tally.bare_pressures.items():
        found.append(
            f"{counted(count, 'rated pressure')} without a unit read as {unit}: in no other unit "
            "would the number rate a sprinkler component."
        )
    return found


def _dates(survey: Survey) -> list[str]:
    return [f"Dates, {counted(count, 'row')}: {DATE_NOTES[note]}."
            for note, count in survey.tally.date_notes.items()]  # fmt: skip


def _rest(survey: Survey) -> list[str]:
    tally, found = survey.tally, []
    if tally.light_wall_rows:
        found.append(
            f"Schedule 10 in size 8 or 10: {counted(tally.light_wall_rows, 'row')}. Sprinkler pipe "
            "of these sizes is often light-wall, 0.188 in: if so, write schedule “light”."
        )
    summed = Counter(notice for plan in survey.plans.values() for notice in plan.notices)
    return found + [f"In {counted(count, 'system')} {notice}." for notice, count in summed.items()]
