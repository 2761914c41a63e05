"""What a reader of Spanish sees, and that what is kept does not depend on who reads or writes."""

import re
from datetime import date, timedelta
from functools import cache
from html.parser import HTMLParser

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import translation

from registry.chain import record_hash
from registry.models import AtmosphereSpan, ProtectionSpan
from registry.quantities import format_quantity
from registry.services.ledger import links
from registry.words import catalogue
from registry.words.spoken import Number, Spoken, day_words
from registry.words.told.retelling import retold
from registry.words.told.sentences import SENTENCES
from scheduling.models import Task
from tests.browser.test_look import READERS, pages_of
from tests.factories import NOW, make_record
from tests.world_objects import make_objects

DAY = timedelta(days=1)
AT_THE_SIGN = "registry:at-sign"
"""Speaks the languages that the site chose for its sign, not the reader's."""
AS_WRITTEN = {"Somebody at the sign", "from memory"}
"""The name of an account, and the standing of a source as its list has it."""
LEAST_WORDS = 2


class Seen(HTMLParser):
    """What is read or read aloud of a page, each text by itself; code and other tongues apart."""

    def __init__(self):
        super().__init__()
        self.inside, self.found = [], []

    def handle_starttag(self, tag, attrs):
        if tag in ("script", "style", "pre", "code", "textarea"):
            self.inside.append(tag)
        for name, value in attrs:
            if value and name in ("aria-label", "title", "placeholder", "alt"):
                self.found.append(value)

    def handle_endtag(self, tag):
        if self.inside and self.inside[-1] == tag:
            self.inside.pop()

    def handle_data(self, data):
        if not self.inside and (text := " ".join(data.split())):
            self.found.append(text)


@cache
def english():
    """Texts of the catalogue, whole or as patterns, that Spanish writes in another way."""
    plain, patterns = set(), []
    for message in catalogue.kept("es"):
        texts = message.id if isinstance(message.id, tuple | list) else (message.id,)
        said = message.string if isinstance(message.string, tuple | list) else (message.string,)
        for text in filter(None, texts):
            if text in said or len(re.findall(r"[a-z]{2,}", text)) < LEAST_WORDS:
                continue
            parts = re.split(r"%\(\w+\)[sd]|\{[^}]*\}", " ".join(text.split()))
            if len(parts) == 1:
                plain.add(parts[0].replace("%%", "%"))
            elif len(re.findall(r"[a-z]{2,}", " ".join(parts))) > LEAST_WORDS:
                patterns.append(re.compile("(.+?)".join(map(re.escape, parts))))
    return plain, patterns


def english_in(html):
    seen = Seen()
    seen.feed(html)
    plain, patterns = english()
    for text in seen.found:
        if text in plain or any(pattern.fullmatch(text) for pattern in patterns):
            yield text


@pytest.fixture
def reader(world):
    def signed_in(person, language="es"):
        user = getattr(world, person)
        user.language = language
        user.save(update_fields=["language"])
        client = Client()
        client.force_login(user)
        return client

    return signed_in


@pytest.mark.django_db
def test_english_would_be_found(world, reader):
    page = reader("owner", "en-gb").get(reverse("reports:portfolio")).content.decode()
    assert len(list(english_in(page))) > 10


@pytest.mark.django_db
@pytest.mark.parametrize("person", READERS)
def test_no_page_shows_an_english_text_of_the_book(world, reader, person):
    objects, client, left = make_objects(world), reader(person), []
    for name in pages_of(person):
        if name.startswith(AT_THE_SIGN):
            continue
        answer = client.get(reverse(name, kwargs=objects.get(name)), follow=True)
        if "html" in answer["Content-Type"]:
            page = answer.content.decode()
            assert '<html lang="es">' in page, name
            found = set(english_in(page)) - AS_WRITTEN
            left += [f"{name}: {text}" for text in sorted(found)]
    assert not left, "\n".join(left)


AS_PUBLISHED = ("scheduling:library", "reports:assumptions", "registry:assumptions")
"""Pages that show numbers in the words of an edition or of a source."""
NO_DECIMALS = re.compile(
    r"NFPA|CFR|Title 19|Python 3|modelo \d|como en un mapa|pueden llevar su unidad"
)
"""Clauses, versions, and what may be typed: coordinates, and examples of either point."""
POINTED = re.compile(r"(?<![\d.v])\d+\.\d+(?![\d.])")


@pytest.mark.django_db
@pytest.mark.parametrize("person", READERS)
def test_no_page_writes_a_decimal_point_for_a_reader_of_the_comma(world, reader, person):
    objects, client, left = make_objects(world), reader(person), []
    for name in pages_of(person):
        if name.startswith((AT_THE_SIGN, *AS_PUBLISHED)):
            continue
        answer = client.get(reverse(name, kwargs=objects.get(name)), follow=True)
        if "html" not in answer["Content-Type"]:
            continue
        seen = Seen()
        seen.feed(answer.content.decode())
        found = (text for text in seen.found if POINTED.search(text))
        left += [f"{name}: {text}" for text in found if not NO_DECIMALS.search(text)]
    assert not left, "\n".join(left)


@pytest.mark.django_db
def test_a_stranger_reads_what_their_browser_asks_for(client):
    address = reverse("account_login")
    spanish = client.get(address, headers={"accept-language": "es-MX,es;q=0.9,en;q=0.5"})
    assert '<html lang="es">' in spanish.content.decode()
    assert spanish["Content-Language"] == "es"
    assert "Accept-Language" in spanish["Vary"]
    assert '<html lang="en">' in client.get(address).content.decode()
    german = client.get(address, headers={"accept-language": "de"})
    assert '<html lang="en">' in german.content.decode()


@pytest.mark.django_db
def test_a_person_chooses_and_the_browser_no_longer_asks(world, reader):
    client = reader("owner", "")
    address = reverse("registry:account")
    told = {"name": world.owner.name, "display_units": "si", "language": "es"}
    assert client.post(address, told).status_code == 302
    page = client.get(address, headers={"accept-language": "en"})
    assert '<html lang="es">' in page.content.decode()
    assert client.post(address, told | {"language": "tlh"}).status_code != 302


@pytest.mark.django_db
def test_what_a_reader_of_spanish_writes_is_kept_in_english(system, world):
    """Only what the person typed is in the person's language."""
    with translation.override("es"):
        make_record(system, "event.head_break", NOW - DAY, by=world.owner, count=1)
    kept = [
        *AtmosphereSpan.objects.filter(system=system).values_list("reason", flat=True),
        *ProtectionSpan.objects.filter(system=system).values_list("reason", flat=True),
        *Task.objects.filter(system=system).values_list("title", flat=True),
        *Task.objects.filter(system=system).values_list("why", flat=True),
        *Task.objects.filter(system=system).values_list("due_because", flat=True),
    ]
    said = " ".join(kept)
    assert "A sprinkler opened" in said
    assert not re.search(r"\b(el|la|de|se|una?)\b|\d,\d", said)
    with translation.override("es"):
        assert any(retold(text) != text for text in kept)


@pytest.mark.django_db
def test_the_chain_does_not_depend_on_the_language(system, world):
    with translation.override("es"):
        make_record(system, "event.head_break", NOW - DAY, by=world.owner, count=1)
        spanish = [record_hash(link.previous_hash, link.body) for link in links(system)]
    assert spanish == [link.hash for link in links(system)]


def test_days_and_numbers_are_written_as_the_language_does():
    day = date(2026, 3, 2)
    with translation.override("es"):
        assert day_words(day) == "2 de marzo de 2026"
        assert f"{Spoken(day):%A %-d %b}".lower() == "lunes 2 mar"
        assert f"{Number(1234.5):,.1f}" == "1\u00a0234,5"
        assert format_quantity(250_000, "pressure", "si") == "2,5 bar gauge"
    with translation.override("en-gb"):
        assert day_words(day) == "2 March 2026"
        assert f"{Number(1234.5):,.1f}" == "1,234.5"


RETOLD = {
    "Reading of 92.5 % nitrogen, below the target of 98 %: 13 % of the gas is air.": (
        "Lectura de 92,5 % de nitrógeno, por debajo del objetivo de 98 %: el 13 % del gas es aire."
    ),
    "Drained without: one drain open at a time.": "Vaciado sin: un solo drenaje abierto a la vez.",
    "Averhythe Hall: bring the key.": "Averhythe Hall: bring the key.",
    "3 March 2026: A sprinkler opened or was knocked off. Waits for an accepted inerting run.": (
        "3 de marzo de 2026: Un rociador se abrió o lo arrancaron de un golpe. "
        "Espera un inertizado aceptado."
    ),
}


@pytest.mark.parametrize("kept", RETOLD)
def test_what_is_kept_is_told_in_spanish_and_what_people_wrote_is_not(kept):
    with translation.override("es"):
        assert retold(kept) == RETOLD[kept]
    with translation.override("en-gb"):
        assert retold(kept) == kept


def test_every_sentence_that_is_kept_can_be_told():
    with translation.override("en"):
        plain = [str(text) for text in SENTENCES if "{" not in str(text)]
    with translation.override("es"):
        assert [text for text in plain if retold(text) == text] == []
