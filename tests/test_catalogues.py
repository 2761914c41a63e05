"""Each language is whole: every text of the code has its words, and the words fit the text."""

import re
from collections import Counter
from string import Formatter

import pytest

from registry.words import catalogue

ABBREVIATION = 4
PERCENT = re.compile(r"%\(\w+\)[sd]|%%|%[sd]")
TAG = re.compile(r"</?[a-z]+[^>]*>|&[a-z]+;")
LANGUAGES = catalogue.languages()


@pytest.fixture(scope="module")
def in_code():
    return catalogue.found_in_code()


@pytest.fixture(params=LANGUAGES)
def words(request):
    return catalogue.kept(request.param)


def forms(message):
    return message.string if isinstance(message.string, tuple | list) else (message.string,)


def texts(message):
    return message.id if isinstance(message.id, tuple | list) else (message.id,)


def fields(text):
    """Names between braces, whatever is said of how to write them; nothing where braces are
    no placeholders."""
    try:
        return {name for _, name, _, _ in Formatter().parse(text) if name is not None}
    except ValueError:
        return set()


def differences(message):
    """Placeholders, signs and tags that the translation lost or made up."""
    several = len(texts(message)) > 1
    for number, said in enumerate(forms(message)):
        text = texts(message)[min(number, len(texts(message)) - 1)]
        for find in (PERCENT.findall, fields, TAG.findall):
            wanted, there = Counter(find(text)), Counter(find(said))
            left_out = {"%(count)d"} if several and number == 0 else set()
            if {name for name in wanted if wanted[name] != there[name]} - left_out or (
                there - wanted
            ):
                yield text, said


def test_there_is_a_language_to_test():
    assert LANGUAGES == ["es"]


def test_the_catalogue_has_every_text_of_the_code_and_no_other(words, in_code):
    """`make words` brings it up to date."""
    assert {(m.id, m.context) for m in words if m.id} == {
        (m.id, m.context) for m in in_code if m.id
    }


def test_every_text_is_translated_and_none_is_a_guess(words):
    bare = [m.id for m in words if m.id and not all(text and text.strip() for text in forms(m))]
    guessed = [m.id for m in words if m.fuzzy and m.id]
    assert (bare, guessed) == ([], [])


def test_a_count_has_as_many_forms_as_the_language(words):
    wrong = [m.id for m in words if m.id and m.pluralizable and len(forms(m)) != words.num_plurals]
    assert not wrong


def test_the_words_hold_the_same_placeholders_and_tags(words):
    assert [found for message in words if message.id for found in differences(message)] == []


def test_the_words_begin_and_end_as_the_text_does(words):
    """A full stop, a colon or a line break more or less shows where texts are put together."""
    ends = (".", ":", "…", "\n")

    def end(text):
        return next((sign for sign in ends if text.endswith(sign)), "")

    wrong = [
        (m.id, m.string)
        for m in words
        if m.id
        and len(texts(m)[0]) >= ABBREVIATION
        and (
            end(texts(m)[-1]) != end(forms(m)[-1])
            or texts(m)[-1][:1].isspace() != forms(m)[-1][:1].isspace()
        )
    ]
    assert wrong == []


def test_the_compiled_catalogue_is_that_of_the_text(words):
    for language in LANGUAGES:
        path = catalogue.place(language)
        assert path.with_suffix(".mo").read_bytes() == catalogue.compiled(words)


def test_the_catalogue_is_written_as_make_words_writes_it(words):
    path = catalogue.place(LANGUAGES[0])
    assert path.read_bytes() == catalogue.as_text(catalogue.brought_up_to_date(LANGUAGES[0]))
