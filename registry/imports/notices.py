"""How unclear entries were read: every guess in words, before anything is loaded."""

from collections import Counter

from django.utils.translation import gettext

from registry.imports.columns import in_words
from registry.imports.numerals import COMMA, POINT
from registry.imports.problems import counted
from registry.imports.survey import Survey
from registry.translation import _

OTHER = {COMMA: "point", POINT: "comma"}
DATE_NOTES = {
    "century": _("years of two digits were read as the last year that ended so"),
    "serial": _("numbers were read as a spreadsheet program's number of a day"),
    "letters": _("letters behind a year were passed over"),
    "span": _("spans of years were read as about their first year"),
}


def notices(survey: Survey) -> list[str]:
    return [
        *survey.table.notices,
        *_sheets(survey),
        *_columns(survey),
        *_passed(survey),
        *_numbers(survey),
        *_dates(survey),
        *_rest(survey),
    ]


def _sheets(survey: Survey) -> list[str]:
    layout, found = survey.table.layout, []
    if len(layout.parts) > 1:
        found.append(
            gettext("%(count)s sheets with the same columns were read as one.")
            % {"count": len(layout.parts)}
        )
    if layout.others:
        names = ", ".join(f"“{name}”" for name, _ in layout.others)
        found.append(
            (gettext("Not read: the sheets %(names)s.") % {"names": names})
            if len(layout.others) > 1
            else (gettext("Not read: the sheet %(names)s.") % {"names": names})
        )
    if beside := layout.beside:
        names = ", ".join(f"“{heading}”" for heading in beside.headings)
        found.append(
            gettext("The sheet “%(sheet)s” was joined by “%(by)s”: it says %(names)s.")
            % {"sheet": beside.sheet, "by": beside.by, "names": names}
        )
        if beside.doubled:
            tags = ", ".join(f"“{tag}”" for tag in beside.doubled)
            found.append(
                gettext("It says two things of %(tags)s, and was not used for these.")
                % {"tags": tags}
            )
    if layout.parts[0].headings.row > 1:
        found.append(
            gettext("Row %(header_row)s was taken for the headings.")
            % {"header_row": layout.header_row}
        )
    if layout.parts[0].headings.lines > 1:
        found.append(gettext("The headings were read from two lines."))
    return found


def _columns(survey: Survey) -> list[str]:
    fields = survey.mapping.real
    found = [
        (
            gettext("“%(key)s” was read as %(label)s: %(why)s.")
            % {"key": one.key, "label": in_words(one.name), "why": one.why}
        )
        for one in survey.mapping.fields
        if one.how == "taken" and one.name
    ]
    aside = [
        f"“{one.key}”" for one in fields if not one.name and one.how != "asked" and one.examples
    ]
    if aside:
        found.append(
            gettext("These columns were not read: %(listed)s.") % {"listed": ", ".join(aside)}
        )
    return found


def _passed(survey: Survey) -> list[str]:
    passed, found = survey.passed, []
    words = {
        "total": gettext("%(rows)s passed over, taken for totals: %(examples)s."),
        "line": gettext("%(rows)s passed over, taken for lines of text: %(examples)s."),
        "heading": gettext("%(rows)s passed over, taken for repeated headings: %(examples)s."),
    }
    for sort, count in passed.counts.items():
        examples = ", ".join(passed.examples[sort])
        found.append(words[sort] % {"rows": counted(count, "row"), "examples": examples})
    if passed.dittos:
        found.append(
            gettext("%(counted)s repeat the cell above.")
            % {"counted": counted(passed.dittos, "ditto mark")}
        )
    if passed.repeated:
        found.append(
            gettext("%(counted)s repeat the cell above.")
            % {"counted": counted(passed.repeated, "empty cell")}
        )
    found += [
        (
            gettext("%(counted)s left out as you said: %(word)s.")
            % {"counted": counted(count, "row"), "word": word}
        )
        for word, count in survey.left_out.items()
    ]
    return found


def _numbers(survey: Survey) -> list[str]:
    conventions, found = survey.conventions, []
    form = conventions.decimal
    if form and conventions.has_open_numbers and not survey.answers.decimal:
        found.append(
            gettext(
                "The %(form)s was taken for the decimal sign, and the %(other)s for the "
                "sign of thousands: %(proof)s can only be read so."
            )
            % {"form": form, "other": OTHER[form], "proof": conventions.proof[form]}
        )
    if conventions.size_reason:
        found.append(
            gettext("Sizes without a unit were read as DN: %(size_reason)s.")
            % {"size_reason": conventions.size_reason}
        )
    for unit, count in survey.tally.bare_pressures.items():
        found.append(
            gettext(
                "%(counted)s without a unit read as %(unit)s: in no other unit would the "
                "number rate a sprinkler component."
            )
            % {"counted": counted(count, "rated pressure"), "unit": unit}
        )
    return found


def _dates(survey: Survey) -> list[str]:
    return [
        gettext("Dates of %(rows)s: %(note)s.")
        % {"rows": counted(count, "row"), "note": DATE_NOTES[note]}
        for note, count in survey.tally.date_notes.items()
    ]


def _rest(survey: Survey) -> list[str]:
    tally, found = survey.tally, []
    if tally.light_wall_rows:
        found.append(
            gettext(
                "Schedule 10 in size 8 or 10: %(counted)s. Sprinkler pipe of these sizes "
                "is often light-wall, 0.188 in: if so, write schedule “light”."
            )
            % {"counted": counted(tally.light_wall_rows, "row")}
        )
    summed = Counter(notice for plan in survey.plans.values() for notice in plan.notices)
    return found + [
        gettext("In %(systems)s %(notice)s.")
        % {"systems": counted(count, "system"), "notice": notice}
        for notice, count in summed.items()
    ]
