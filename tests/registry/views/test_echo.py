import pytest
from django.urls import reverse


@pytest.fixture
def ask(client, owner):
    client.force_login(owner)

    def ask(text: str, dimension: str = "pressure", **more):
        query = {"dimension": dimension, "name": "fill-pressure", "fill-pressure": text, **more}
        return client.get(reverse("registry:echo"), query)

    return ask


def test_what_was_typed_comes_back_in_the_other_system(ask):
    assert ask("30 psi").content.decode() == "= 2.07 bar gauge"


def test_a_person_who_reads_si_gets_us_units(ask, owner):
    owner.display_units = "si"
    owner.save()
    assert ask("2.1 bar").content.decode() == "= 30.5 psi gauge"


def test_a_bare_number_is_read_in_the_unit_of_its_field(ask):
    assert ask("30").content == b""
    assert ask("30", unit="psi").content.decode() == "= 2.07 bar gauge"


def test_an_absolute_pressure_is_turned_with_the_air_of_the_site(ask):
    """2 bar absolute less 0.8 bar of air is 1.2 bar gauge, 17.4 psi (1 psi is 6,894.76 Pa)."""
    with_thin_air = ask("2 bar abs", atmosphere_pa="80000").content.decode()
    assert with_thin_air == "= 17.4 psi gauge"


@pytest.mark.parametrize("air", ["much", "nan", "inf", "1e400"])
def test_air_that_is_no_number_is_that_of_the_standard(ask, air):
    assert ask("2 bar abs", atmosphere_pa=air).content == ask("2 bar abs").content != b""


@pytest.mark.parametrize(
    ("text", "dimension", "echo"),
    [
        ("2.1 bar", "pressure", "= 30.5 psi gauge"),
        ("44.7 psia", "pressure", "= 30 psi gauge"),
        ("350 kPa", "pressure", "= 50.8 psi gauge"),
        ("12' 6\"", "length", "= 12.5 ft"),
        ("2 weeks", "duration", "= 14 days"),
    ],
)
def test_a_unit_that_is_not_the_readers_comes_back_in_the_readers(ask, text, dimension, echo):
    assert ask(text, dimension).content.decode() == echo


@pytest.mark.parametrize(("text", "dimension"), [("98 %", "percent"), ("45 min", "duration")])
def test_an_echo_that_would_say_the_same_again_is_left_out(ask, text, dimension):
    assert ask(text, dimension).content == b""


@pytest.mark.parametrize("text", ["", "30 wombats", "<b>", "1e999 psi"])
def test_what_cannot_be_read_yet_gets_no_echo(ask, text):
    assert ask(text).content == b""


@pytest.mark.parametrize("unit", ["wombat", "ft", "__class__"])
def test_an_address_written_by_hand_does_no_harm(ask, unit):
    assert ask("30", unit=unit, atmosphere_pa="much").status_code == 200


def test_an_unknown_dimension_is_not_found(ask):
    assert ask("30 psi", dimension="volume_of_sound").status_code == 404


def test_the_echo_is_for_people_who_are_signed_in(client, db):
    assert client.get(reverse("registry:echo")).status_code == 302
