"""Questions about sheets and columns: which is the register, what each holds, what is missing."""

from django.utils.translation import gettext

from registry.imports.answers import Question
from registry.imports.cells import CHOICES
from registry.imports.columns import LABELS, in_words
from registry.imports.layout import TAG_ABOVE
from registry.imports.mapping import Field
from registry.imports.said import said_above
from registry.imports.survey import Survey
from registry.imports.walls import USUAL
from registry.translation import _

SCHEDULES = (
    ("40", "Schedule 40"),
    ("10", "Schedule 10"),
    (USUAL, _("Schedule 40 up to 2 in, 10 above (common practice)")),
    ("light", _("Light wall")),
    ("EN-medium", _("European, medium series")),
    ("EN-heavy", _("European, heavy series")),
    ("EN-thin", _("European, thin welded")),
)


def sheet_questions(survey: Survey) -> list[Question]:
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
            "sheet",
            gettext("Which sheet is the register?"),
            (("*", gettext("All that have the same columns")), *options),
            (gettext("Read now: %(listed)s.") % {"listed": ", ".join(layout.sheet_names)}),
            option="--sheet",
        )
    ]


def column_questions(survey: Survey) -> list[Question]:
    fields = survey.mapping.fields
    asked = [_two_meanings(one, survey) for one in fields if one.how == "asked"]
    covered = {name for one in fields if one.how == "asked" for name in one.may_be}
    for name in survey.mapping.missing:
        if name not in covered:
            asked.append(_missing(name, survey))
    return asked


def _two_meanings(one: Field, survey: Survey) -> Question:
    labels = " or ".join(in_words(name) for name in one.may_be)
    return Question(
        f"column:{one.key}",
        (gettext("Does “%(key)s” hold the %(labels)s?") % {"key": one.key, "labels": labels}),
        (*((name, LABELS[name]) for name in one.may_be), ("", gettext("Neither: leave it out"))),
        (gettext("It holds %(listed)s.") % {"listed": listed(one.examples)}),
        (gettext("Its cells look like %(label)s.") % {"label": in_words(one.proposed)})
        if one.proposed
        else "",
        one.proposed,
        survey.rows,
        f"--column {one.proposed or one.may_be[0]}={one.key!r}",
    )


def _missing(name: str, survey: Survey) -> Question:
    """No heading names it: a column of the file may, or one value holds for every row."""
    free = [
        one
        for one in survey.mapping.fields
        if not one.name
        and one.examples
        and one.how != "ours"
        and (one.key != TAG_ABOVE or name == "tag")
    ]
    if name == "site":  # a list of one estate may name its buildings and no site
        free = [one for one in survey.mapping.fields if one.name == "building"] + free
    proposed = next((one for one in free if one.proposed == name), None)
    above = _said_above(name, survey)
    weak = _names_of_the_file(survey) if name == "site" and not above else []
    options = [(f"column:{one.key}", f"Column “{one.key}”: {listed(one.examples)}") for one in free]
    options = [
        (f"all:{text}", (gettext("All rows: %(text)s") % {"text": text})) for text in above
    ] + options
    options += [
        (f"all:{text}", (gettext("All rows: %(text)s") % {"text": text})) for text, _ in weak
    ]
    options += [
        (f"all:{value}", (gettext("All rows: %(label)s") % {"label": label}))
        for value, label in values_of(name)
    ]
    evidence = " ".join(
        [(gettext("Above the table stands “%(text)s”.") % {"text": text[:80]}) for text in above]
        + [words for _, words in weak]
    )
    suggestion = f"column:{proposed.key}" if proposed else f"all:{above[0]}" if above else ""
    return Question(
        f"missing:{name}",
        (
            gettext(
                "No column is known to hold the %(label)s. Which one does, or what holds "
                "for every row?"
            )
            % {"label": in_words(name)}
        ),
        tuple(options),
        evidence,
        gettext("Perhaps “%(heading)s”: %(why)s.") % {"heading": proposed.key, "why": proposed.why}
        if proposed
        else "",
        suggestion,
        0 if survey.answers.blank.get(name) else survey.rows,
        (gettext("--column %(name)s=HEADING, or --blank %(name)s=VALUE") % {"name": name}),
        is_typed=True,
    )


def _said_above(name: str, survey: Survey) -> list[str]:
    """“Site: North Quay” in a line above the table."""
    return said_above(survey.table.layout.titles).get(name, [])[:1]


def _names_of_the_file(survey: Survey) -> list[tuple[str, str]]:
    """What the site may be called by, each with what it rests on; proposals and no more."""
    table, found = survey.table, []
    if table.layout.titles:
        title = table.layout.titles[0][:100]
        found.append(
            (title, (gettext("Above the table stands “%(title)s”.") % {"title": title[:80]}))
        )
    if table.name:
        found.append(
            (table.name, (gettext("The file is called “%(name)s”.") % {"name": table.name}))
        )
    return list({text.casefold(): (text, words) for text, words in reversed(found)}.values())[::-1]


def values_of(name: str) -> tuple[tuple[str, str], ...]:
    if name == "schedule":
        return SCHEDULES
    return tuple(choice for choice in CHOICES.get(name, ()))


def listed(examples: list[str]) -> str:
    return ", ".join(f"“{text}”" for text in examples[:3]) or "nothing"
