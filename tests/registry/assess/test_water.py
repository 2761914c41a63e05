"""What a count of bacteria in free text says, and what it does not."""

import pytest

from registry.assess.evidence import Evidence, _water
from registry.atmosphere import LedgerItem
from tests.factories import NOW

NOTHING_FOUND = [
    "", "None detected", "none", "No bacteria", "not detected", "Not tested", "Nil", "0",
    "0 CFU/mL", "None detected, 5-tube series", "<10 CFU/mL",
    "0.0", "negative", "SRB negative", "SRB: not detected", "no growth after 28 days", "Absent",
    "<1 CFU/mL", "below detection limit", "ND", "-", "unknown", "SRB none found", "No SRB found",
]  # fmt: skip
FOUND = [
    "10 CFU/mL", "100", "1e4 cells/mL", "0.5 per mL", "<100 CFU/mL, SRB present", "SRB positive",
    "present", "10^4 SRB, dip slide", "SRB 100", "not many, but SRB present", "Iron bacteria found",
    "10 CFU/mL, dip slide; acid producers none", "0.01 x 10^6",
]  # fmt: skip


def signs_of(bacteria: str) -> set[str]:
    found = Evidence()
    row = LedgerItem(1, 1, "reading.water", NOW, {"ph": 7.0, "bacteria": bacteria})
    _water(found, row, book=None)
    return found.signs


@pytest.mark.parametrize("words", NOTHING_FOUND)
def test_a_count_of_nothing_is_no_sign_of_bacteria(words):
    assert signs_of(words) == set()


@pytest.mark.parametrize("words", FOUND)
def test_a_count_or_a_word_that_they_are_there_is_a_sign(words):
    assert signs_of(words) == {"bacteria"}
