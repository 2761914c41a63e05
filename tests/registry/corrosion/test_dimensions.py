import math

import pytest

from registry.corrosion import dimensions as d

NPS = {"1/2": 0.5, "3/4": 0.75, "1-1/4": 1.25, "1-1/2": 1.5, "2-1/2": 2.5, "3-1/2": 3.5}


def listed(*pairs):
    return [
        pytest.param(material, schedule, size, id=f"{material}-{schedule}-{size}")
        for material, schedule in pairs
        for size in d.nominal_sizes(material, schedule)
    ]


@pytest.mark.parametrize(
    ("material", "schedule", "size"),
    listed(
        *(("black_steel", s) for s in ("5", "10", "40")),
        *(("stainless_steel", s) for s in ("5S", "10S", "40S")),
    ),
)
def test_steel_agrees_with_the_fluids_library(material, schedule, size):
    from fluids.piping import nearest_pipe

    _, inside, outside, wall = nearest_pipe(NPS=NPS.get(size) or float(size), schedule=schedule)
    pipe = d.pipe_dimensions(material=material, nps=size, schedule=schedule)
    assert pipe.outside_diameter_m == pytest.approx(outside, abs=1e-6)
    assert pipe.wall_m == pytest.approx(wall, abs=1e-6)
    assert pipe.inside_diameter_m == pytest.approx(inside, abs=1e-6)


@pytest.mark.parametrize("size", d.nominal_sizes("cpvc"))
def test_cpvc_average_wall_is_at_least_the_least_wall_of_its_ratio(size):
    """ASTM F442: the least wall is the outside diameter over 13.5; the average is above it."""
    pipe = d.pipe_dimensions(material="cpvc", nps=size, schedule="SDR 13.5")
    least = pipe.outside_diameter_m / 13.5
    assert least <= pipe.wall_m <= 1.15 * least


@pytest.mark.parametrize("size", d.nominal_sizes("copper"))
def test_copper_outside_diameter_is_nominal_plus_an_eighth_and_k_is_thickest(size):
    """ASTM B88: outside diameter = nominal + 1/8 in for every type."""
    pipes = [d.pipe_dimensions(material="copper", nps=size, schedule=s) for s in "KLM"]
    whole, _, part = size.rpartition("-")
    top, _, bottom = part.partition("/")
    nominal = float(whole or 0) + float(top) / float(bottom or 1)
    for pipe in pipes:
        assert pipe.outside_diameter_m == pytest.approx((nominal + 0.125) * 0.0254, abs=1e-6)
    assert pipes[0].wall_m > pipes[2].wall_m
    assert pipes[0].wall_m >= pipes[1].wall_m > pipes[2].wall_m


@pytest.mark.parametrize("size", ["8", "10"])
def test_light_wall_in_large_sizes_is_0_188_in_and_not_schedule_10(size):
    light = d.pipe_dimensions(material="black_steel", nps=size, schedule="light")
    ten = d.pipe_dimensions(material="black_steel", nps=size, schedule="10")
    assert light.wall_m == pytest.approx(0.188 * 0.0254, abs=1e-5)
    assert light.wall_m > ten.wall_m


def test_galvanized_pipe_has_the_dimensions_of_black_pipe():
    for size in d.nominal_sizes("black_steel", "40"):
        black = d.pipe_dimensions(material="black_steel", nps=size, schedule="40")
        assert d.pipe_dimensions(material="galvanized_steel", nps=size, schedule="40") == black


@pytest.mark.parametrize("text", ["1-1/4", "1 1/4", '1-1/4"', "DN32", "dn 32"])
def test_a_size_is_understood_however_it_is_written(text):
    pipe = d.pipe_dimensions(material="black_steel", nps=text, schedule="Sch 40")
    assert pipe.nominal_size == "1-1/4"
    assert pipe.dn == 32


def test_volume_and_inner_area_follow_from_the_bore():
    pipe = d.pipe_dimensions(material="black_steel", nps="2", schedule="40")
    bore = pipe.inside_diameter_m
    assert pipe.volume_per_length_m2 == pytest.approx(math.pi * bore**2 / 4)
    assert pipe.internal_area_per_length_m == pytest.approx(math.pi * bore)


def test_every_dn_maps_back_to_its_nominal_size():
    sizes = d.nominal_sizes()
    assert [d.nominal_size_from_dn(d.dn_from_nominal_size(size)) for size in sizes] == sizes


def test_a_given_wall_replaces_the_tables_wall():
    pipe = d.dimensions_with_wall(material="black_steel", nps="8", wall=0.005)
    assert pipe.inside_diameter_m == pytest.approx(0.2191 - 0.010)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: d.pipe_dimensions(material="lead", nps="2", schedule="40"), "known: black_steel"),
        (lambda: d.pipe_dimensions(material="copper", nps="2", schedule="40"), "listed: K, L, M"),
        (
            lambda: d.pipe_dimensions(material="cpvc", nps="4", schedule="SDR 13.5"),
            "sizes made: 3/4, 1,",
        ),
        (lambda: d.dn_from_nominal_size("7"), "listed: 1/2"),
        (lambda: d.nominal_size_from_dn(33), "listed: 15, 20"),
        (lambda: d.dimensions_with_wall(material="cpvc", nps="9", wall=0.01), "sizes made"),
        (
            lambda: d.dimensions_with_wall(material="copper", nps="1", wall=0.02),
            "below half of the outside diameter, 28.575 mm",
        ),
        (lambda: d.dimensions_with_wall(material="copper", nps="1", wall=-1.0), "greater than"),
    ],
)
def test_what_is_not_made_is_refused_with_what_is(call, message):
    with pytest.raises(ValueError, match=message):
        call()
