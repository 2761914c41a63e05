"""Both languages say the same things: no text is left out, and none fills in something else."""

from dataclasses import fields
from string import Formatter

import pytest

from registry.kinds.events import TOLD
from registry.kinds.parts import DRAIN_STEPS
from registry.riser_sign.texts import EN, ES, Texts

ALIKE = ("No",)
NAMES = [field.name for field in fields(Texts)]


def filled(text) -> set[str]:
    return {name for _text, name, *_rest in Formatter().parse(str(text)) if name}


@pytest.mark.parametrize("name", NAMES)
def test_each_text_is_there_in_both_and_is_filled_with_the_same(name):
    one, other = getattr(EN, name), getattr(ES, name)
    if isinstance(one, tuple):
        assert len(one) == len(other) > 0
        codes = [(a[0], b[0]) for a, b in zip(one, other, strict=True) if isinstance(a, tuple)]
        assert all(a == b for a, b in codes)
        pairs = [(a[-1], b[-1]) if isinstance(a, tuple) else (a, b)
                 for a, b in zip(one, other, strict=True)]  # fmt: skip
    else:
        pairs = [(one, other)]
    for english, spanish in pairs:
        assert str(english).strip() and str(spanish).strip()
        assert str(english) != str(spanish) or str(english) in ALIKE
        assert filled(english) == filled(spanish)


def test_what_can_be_told_is_what_a_record_can_hold():
    what, happened = TOLD.field("what"), TOLD.field("happened")
    assert what and happened
    assert [code for code, _words in EN.what] == [code for code, _words in what.choices]
    assert [code for code, _words in EN.happened_choices] == [code for code, _ in happened.choices]
    assert [name for name, _words in EN.steps] == [step.name for step in DRAIN_STEPS]
