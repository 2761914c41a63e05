import pytest

from registry.imports.cells import CHOICES, NO_NITROGEN, SOME_NITROGEN, read_word
from registry.imports.problems import CellError
from registry.imports.walls import read_schedule


@pytest.mark.parametrize(
    ("field", "typed", "code"),
    [
        ("kind", "Wet Pipe ", "wet"),
        ("kind", "DRY", "dry"),
        ("kind", "Pre-Action", "preaction"),
        ("hazard", "Ordinary Hazard Group 2", "ordinary_2"),
        ("hazard", "LH", "light"),
        ("hazard", "", "unknown"),
        ("role", "X-main", "cross_main"),
        ("role", "branch", "branch_line"),
        ("material", "blk stl", "black_steel"),
        ("material", "Galvanised steel", "galvanized_steel"),
        ("material", "SS", "stainless_steel"),
        ("material", "schwarz", "black_steel"),
        ("kind", "våtrör", "wet"),
        ("kind", "vaatroer", "wet"),
        ("role", "antenne", "branch_line"),
        ("gas_supply", "N₂", SOME_NITROGEN),
        ("joint", "", "unknown"),
        ("gas_supply", "bottles", "cylinders"),
        ("gas_supply", "N2 cylinders", "cylinders"),
        ("gas_supply", "generator", "generator"),
        ("gas_supply", "N", NO_NITROGEN),
        ("gas_supply", "none", NO_NITROGEN),
        ("gas_supply", "Yes", SOME_NITROGEN),
    ],
)
def test_words_of_the_trade_and_their_abbreviations_are_known(field, typed, code):
    assert read_word(field, typed) == code


@pytest.mark.parametrize(
    ("field", "typed", "wrong", "right"),
    [
        ("material", "unobtainium", "not known", "black steel, galvanized steel"),
        ("material", "steel", "black or galvanized", "Write black steel or galvanized steel."),
        ("hazard", "OH", "which ordinary hazard group", "ordinary hazard group 1 or"),
        ("role", "main", "feed main or a cross main", "feed main or cross main"),
        ("joint", "grooved", "rolled or a cut groove", "Write grooved, rolled or grooved, cut"),
        ("kind", "", "nothing is written", "wet pipe, dry pipe"),
        ("gas_supply", "maybe", "not known", "none, cylinders, generator, compressor"),
    ],
)
def test_unknown_and_ambiguous_words_say_what_would_be_right(field, typed, wrong, right):
    with pytest.raises(CellError) as caught:
        read_word(field, typed)
    assert wrong in caught.value.wrong
    assert right in caught.value.right


@pytest.mark.parametrize("field", ["kind", "hazard", "role", "material", "joint"])
def test_every_choice_of_the_book_can_be_written_in_a_file(field):
    for code, label in CHOICES[field]:
        if code != "unknown":
            assert read_word(field, label) == code
            assert read_word(field, code) == code


@pytest.mark.parametrize(
    ("typed", "material", "schedule"),
    [
        ("40", "black_steel", "40"),
        ("Sch. 10", "galvanized_steel", "10"),
        ("sch40", "black_steel", "40"),
        ("S40", "black_steel", "40"),
        ("Light", "black_steel", "light"),
        ("10", "stainless_steel", "10S"),
        ("10S", "stainless_steel", "10S"),
        ("Type L", "copper", "L"),
        ("SDR 13.5", "cpvc", "SDR 13.5"),
    ],
)
def test_schedules_are_brought_to_the_spelling_of_the_tables(typed, material, schedule):
    assert read_schedule(typed, material) == schedule


@pytest.mark.parametrize(
    ("field", "typed", "code"),
    [
        ("role", "Range pipe (branch)", "branch_line"),
        ("kind", "Sprayers (deluge)", "deluge"),
        ("material", "musta teräs 3,2 mm", "black_steel"),
        ("kind", "wet with glycol", "antifreeze"),
        ("kind", "nat met antivries", "antifreeze"),
    ],
)
def test_a_known_word_beside_others_that_cannot_change_it_is_read(field, typed, code):
    assert read_word(field, typed) == code


@pytest.mark.parametrize(
    ("field", "typed"),
    [
        ("role", "riser (branch)"),  # the two disagree
        ("kind", "wet without glycol"),
        ("kind", "wet, no antifreeze"),
        ("kind", "dry with glycol"),
        ("material", "timber 3.2 mm"),
        ("role", "not a pipe (branch)"),
    ],
)
def test_a_known_word_beside_others_that_may_change_it_is_asked(field, typed):
    with pytest.raises(CellError):
        read_word(field, typed)
