"""One unit system everywhere: every page and every PDF, read by one who reads SI and by one who
reads US units, shows no number in a unit of the other system.

What may stay is in `ALLOWED` and `BY_ADDRESS`, each with its reason.
"""

import io
import re
from html.parser import HTMLParser

import pytest
from django.core.signals import request_finished
from django.db import close_old_connections
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from registry.models import User
from tests.test_access import ADDRESSES, MEANING, OK
from tests.world_objects import make_objects

READERS = ("owner", "technician", "crew_manager")
NUMBER = r"(?<![\w.,])[-−+±]?\d[\d.,/\u00a0\u202f ]*"
ENDS = r"(?![\w²³/]|\s*\d)"
"""After the unit comes no further letter, as in “3 mills”, and no figure, as in “3 m 2”."""
CLOSES = r"(?=\s*(?:$|[.,;:)“”’·|×+]|gauge\b|wide\b|long\b|deep\b|thick\b|of\b))"
"""After “in” and “m”, which are words too: the end of the text, a sign, or what is measured."""
US = (
    r"(?:psi[ag]?|ft[²³23]?|gal|gpm|[as]?cf[mh]|°F|lbs?|oz|mils?|mpy|mph|miles?|yd|inch(?:es)?|feet)"
    rf"{ENDS}"
)
SI = (
    rf"(?:k?Pa|MPa|m?bar|mm|cm|km|µm|m[²³23]|L|litres?|metres?|°C|kg|(?:L|m[³3])/(?:min|h|s)){ENDS}"
)
FOREIGN = {
    "si": re.compile(rf"{NUMBER}\s*[-\u00a0]?(?:{US}|in{CLOSES}|[″\"]{CLOSES})"),
    "us": re.compile(rf"{NUMBER}\s*[-\u00a0]?(?:{SI}|m{CLOSES})"),
}
ATTACHED = {"registry:attachment", "scheduling:attachment", "reports:package-file"}
"""Files as people attached them, and the package of records as they are stored."""
ALLOWED = {
    r"^= ": "what was understood of a typed value, told in the other system so that a wrong unit "
    "is seen",
    r"(?:Riser|[Mm]ain|line|pipe) \d[\d/-]* in\b": "a run goes by its nominal size (ASME B36.10)",
    r"\b(?:Tall|Large|Medium|Small|Metric), \d": "a size of cylinder goes by what is stamped on it",
    r"40 °F \(4 °C\)": "the frost line as the standard prints it, in both",
    r"325 °F \(163 °C\)": "the class of a solder link as the standard prints it, in both",
    r"A5, 148|A4, 210": "paper by its ISO 216 size, on the choice of paper",
}
BY_ADDRESS = {
    "registry:at-sign-drain": "whoever reads it has no account and so no units: both are printed",
    "reports:order-sheet": "goes along in the van, where anybody may read it: both are printed",
    "registry:import-new": "examples of what may be typed, in either",
    "scheduling:library-owner": "tests and limits in the words of an edition",
    "registry:assumptions": "values as they were published",
    "scheduling:library": "tests and limits in the words of an edition",
    "reports:assumptions": "values and sources as they were published",
}
BLOCKS = {
    "p", "li", "td", "th", "tr", "dt", "dd", "div", "section", "h1", "h2", "h3", "h4", "option",
    "label", "button", "text", "title", "legend", "summary", "caption", "nav", "article", "br",
}  # fmt: skip


class Read(HTMLParser):
    """What is read or read aloud of a page, a block a line; code and typed text apart."""

    def __init__(self):
        super().__init__()
        self.skipped, self.said, self.aloud = [], [], []

    def handle_starttag(self, tag, attrs):
        if tag in ("script", "style", "pre", "code", "textarea"):
            self.skipped.append(tag)
        if tag in BLOCKS:
            self.said.append("\n")
        for name, value in attrs:
            if value and name in ("aria-label", "title", "placeholder", "alt"):
                self.aloud.append(value)

    def handle_endtag(self, tag):
        if self.skipped and self.skipped[-1] == tag:
            self.skipped.pop()
        if tag in BLOCKS:
            self.said.append("\n")

    def handle_data(self, data):
        if not self.skipped:
            self.said.append(re.sub(r"\s+", " ", data))

    @property
    def lines(self):
        return ["".join(self.said).replace(" \n", "\n"), *self.aloud]


def lines_of(answer):
    if answer["Content-Type"].startswith("application/pdf"):
        content = b"".join(answer) if answer.streaming else answer.content
        if len(content) < 2000:
            return []
        pages = PdfReader(io.BytesIO(content)).pages
        return "\n".join(page.extract_text() for page in pages).split("\n")
    if not answer["Content-Type"].startswith("text/html"):
        return []
    read = Read()
    read.feed(answer.content.decode())
    return "\n".join(read.lines).split("\n")


def foreign_in(lines, units):
    for line in lines:
        text = " ".join(line.split())
        for found in FOREIGN[units].finditer(text):
            around = text[max(0, found.start() - 60) : found.end() + 40]
            if not any(re.search(allowed, around) for allowed in ALLOWED):
                yield found[0], around


def closed(answer):
    """As the test client does it for answers that are no stream: the database stays open."""
    request_finished.disconnect(close_old_connections)
    answer.close()
    request_finished.connect(close_old_connections)


def readable_by(person):
    return [
        name
        for name, methods in ADDRESSES.items()
        if "get" in methods and MEANING[methods["get"]].get(person) == OK
    ]


@pytest.mark.parametrize(
    ("units", "text"),
    [
        ("si", "held at 30 psi gauge"), ("si", "a 6 in, black steel"),
        ("si", "41 °F"),
        ("si", "2,858 ft of pipe"), ("si", "500 gal"), ("us", "2.07 bar gauge"),
        ("us", "207 kPa"),
        ("us", "12.5 m of pipe"), ("us", "1,9 m³"), ("us", "7.11 mm"), ("us", "15 °C"),
    ],
)  # fmt: skip
def test_a_unit_of_the_other_system_would_be_found(units, text):
    assert list(foreign_in([text], units))
    assert not list(foreign_in([text], "us" if units == "si" else "si"))


@pytest.mark.django_db
@pytest.mark.parametrize("units", ["si", "us"])
def test_no_page_and_no_paper_shows_a_unit_of_the_other_system(world, units):
    User.objects.update(display_units=units)
    objects, left, papers = make_objects(world), {}, set()
    for person in ("owner", "technician"):
        client = Client()
        client.force_login(getattr(world, person))
        for name in readable_by(person):
            if name in ATTACHED or name in BY_ADDRESS:
                continue
            answer = client.get(reverse(name, kwargs=objects.get(name)), follow=True)
            if answer["Content-Type"].startswith("application/pdf"):
                papers.add(name)
            for unit, around in foreign_in(lines_of(answer), units):
                left.setdefault(around, (name, unit))
            if answer.streaming:
                closed(answer)
    assert len(papers) > 5, papers
    assert not left, "\n".join(f"{name}: {unit!r} in {text}" for text, (name, unit) in left.items())
