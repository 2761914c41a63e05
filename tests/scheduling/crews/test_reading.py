"""What is wrong with an instance is said with the name of the field."""

import pytest

from scheduling.crews import InstanceError, read_instance
from tests.scheduling.crews.made_instances import made_instance, order_of, tiny_instance


def test_an_instance_is_read_whole():
    instance = read_instance(made_instance(6, 3, 2, 1))
    assert [len(instance.days), len(instance.crews), len(instance.orders)] == [2, 3, 6]
    assert instance.pause.opens == 660


def spoilt(path, value):
    data = tiny_instance([order_of()], days=2)
    place = data
    for key in path[:-1]:
        place = place[key]
    if value is KeyError:
        del place[path[-1]]
    else:
        place[path[-1]] = value
    return data


@pytest.mark.parametrize(
    "path, value, field, words",
    [
        (["format"], "another/1", "format", "crew-plan-instance/1"),
        (["days"], [], "days", "one day"),
        (["days", 1, "offset"], 0, "days[1].offset", "more than 0"),
        (["days", 0, "weekday"], 7, "days[0].weekday", "6 or less"),
        (["left_out_offset"], 0, "left_out_offset", "last day"),
        (["travel", "metres_per_minute"], 0, "travel.metres_per_minute", "1 or more"),
        (["travel"], [], "travel", "named fields"),
        (["break", "to"], 600, "break.to", "660"),
        (["depots", 0, "stock"], -1, "depots[0].stock", "0 or more"),
        (["depots", 0, "deliveries"], {"x": 1}, "depots[0].deliveries.x", "whole number"),
        (["buildings", 0, "x"], 1.5, "buildings[0].x", "1.5"),
        (["buildings", 0, "windows"], {"0": [[9, 8]]}, "buildings[0].windows.0[0]", "before"),
        (["buildings", 0, "windows"], {"0": [[1, 9], [8, 9]]}, "buildings[0].windows.0[1]", "ends"),
        (["buildings", 1, "id"], "site", "depots and buildings", "twice"),
        (["crews", 0, "depot"], "nowhere", "crews[0].depot", "nowhere"),
        (["crews", 0, "hours"], {"0": [480]}, "crews[0].hours.0", "[from, to]"),
        (["crews", 0, "skills"], "gas", "crews[0].skills", "list"),
        (["crews", 0, "cylinders"], True, "crews[0].cylinders", "True"),
        (["orders", 0, "minutes"], KeyError, "orders[0].minutes", "missing"),
        (["orders", 0, "minutes"], "30", "orders[0].minutes", "'30'"),
        (["orders", 0, "impairs"], 1, "orders[0].impairs", "true or false"),
        (["orders", 0, "building"], "gone", "orders[0].building", "gone"),
        (["orders", 0, "told"], 2, "orders[0].told", "1 or less"),
        (["orders", 0, "fixed"], {"crew": "x", "day": 0, "start": 0}, "orders[0].fixed.crew", "x"),
        (
            ["orders", 0, "fixed"],
            {"crew": "crew", "day": 2, "start": 0},
            "orders[0].fixed.day",
            "1",
        ),
    ],
)
def test_a_wrong_field_is_named(path, value, field, words):
    with pytest.raises(InstanceError) as caught:
        read_instance(spoilt(path, value))
    assert caught.value.field == field
    assert words in caught.value.problem


def test_what_is_no_object_is_refused():
    with pytest.raises(InstanceError, match="instance: must be an object"):
        read_instance([])
