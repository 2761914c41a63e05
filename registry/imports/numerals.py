"""Numbers as files write them. The decimal sign belongs to the file, not to a cell."""

import re

COMMA, POINT = "comma", "point"
FORMS = (COMMA, POINT)

NUMERAL = re.compile(r"\d[\d.,'’\u00a0\u202f\u2009 ]*\d|\d")
GROUPED = {  # thousands parted, with or without decimals
    POINT: re.compile(r"[1-9]\d{0,2}(?:[,' ]\d{3})+(?:\.\d+)?"),
    COMMA: re.compile(r"[1-9]\d{0,2}(?:[.' ]\d{3})+(?:,\d+)?"),
}
PLAIN = {POINT: re.compile(r"\d+(?:\.\d+)?|\.\d+"), COMMA: re.compile(r"\d+(?:,\d+)?|,\d+")}
BLANKS = str.maketrans({"\u00a0": " ", "\u202f": " ", "\u2009": " ", "’": "'", "·": "."})
OTHER = {COMMA: ".", POINT: ","}
SIGN = {COMMA: ",", POINT: "."}


def tidy_blanks(text: str) -> str:
    return text.translate(BLANKS)


def in_form(numeral: str, form: str) -> str | None:
    """The numeral with a decimal point and no other sign; None where the form forbids it."""
    numeral = tidy_blanks(numeral).strip()
    if GROUPED[form].fullmatch(numeral):
        numeral = re.sub(rf"[' {re.escape(OTHER[form])}]", "", numeral)
    elif not PLAIN[form].fullmatch(numeral):
        return None
    return numeral.replace(",", ".")


def proves(text: str) -> str | None:
    """The form in which alone this text can have been written; “1.234” and “1,234” prove none."""
    found = NUMERAL.search(tidy_blanks(text))
    if not found:
        return None
    readings = {form: in_form(found[0], form) for form in FORMS}
    possible = [form for form in FORMS if readings[form] is not None]
    return possible[0] if len(possible) == 1 else None


def is_open(text: str) -> bool:
    """Whether the two forms read this text as two different numbers: 1.234, 12,500."""
    found = NUMERAL.search(tidy_blanks(text))
    if not found:
        return False
    readings = [in_form(found[0], form) for form in FORMS]
    return None not in readings and float(readings[0] or 0) != float(readings[1] or 0)


def with_point(text: str, form: str) -> str:
    """The text with its first numeral rewritten with a decimal point; unchanged where it does not
    fit the form, so that the reader of quantities says what is wrong with it."""
    text = tidy_blanks(text)
    found = NUMERAL.search(text)
    if not found:
        return text
    rewritten = in_form(found[0], form)
    return text if rewritten is None else text[: found.start()] + rewritten + text[found.end() :]
