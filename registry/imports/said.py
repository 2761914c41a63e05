"""What the lines above a table say of all its rows."""

import re
from collections.abc import Sequence
from dataclasses import replace
from pathlib import PurePath

from django.utils.translation import gettext

from registry.imports.answers import Answers
from registry.imports.columns import in_words, match_heading
from registry.imports.layout import Layout
from registry.imports.mapping import Mapping

LONGEST = 100  # characters
PLACES = ("site", "building")  # of what a line above may settle; a person can say otherwise


def said_above(titles: Sequence[str]) -> dict[str, list[str]]:
    """By column, what labels such as “Site: North Quay” say."""
    found: dict[str, list[str]] = {}
    for text in titles:
        label, sign, value = text.partition(":")
        columns = match_heading(label).columns if sign and value.strip() else ()
        for name in columns if len(columns) == 1 else ():
            found.setdefault(name, []).append(value.strip()[:LONGEST])
    return found


def with_said(answers: Answers, layout: Layout, mapping: Mapping) -> tuple[Answers, list[str]]:
    """The site that a label above the table names is taken where no column has it, and told in a
    notice; what a person answered goes before."""
    taken, told = {}, []
    said = said_above(layout.titles)
    for name in PLACES:
        values = set(said.get(name, ()))
        if len(values) == 1 and name not in mapping.position and name not in answers.blank:
            taken[name] = values.pop()
            told.append(
                gettext(
                    "No column has the %(label)s: “%(taken)s”, which stands above the table, "
                    "was taken for all rows."
                )
                % {"label": in_words(name), "taken": taken[name]}
            )
    return replace(answers, blank=taken | answers.blank), told


def file_title(name: str) -> str:
    """“09_site_survey_riverbank_mill.csv” as a person would say it."""
    stem = PurePath(name).stem
    words = re.sub(r"[_\s]+", " ", re.sub(r"^\d+[_\s-]+", "", stem)).strip()
    return words[:1].upper() + words[1:LONGEST]


__all__ = ["file_title", "said_above", "with_said"]
