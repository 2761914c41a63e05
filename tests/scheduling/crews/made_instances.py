"""Invented instances of the crew plan, made from a seed: what the tests and the benchmark plan."""

from random import Random

KINDS = (  # kind, minutes, skills, cylinders at most, impairs, worth of a day's delay
    ("refill", (120, 150, 200), ["gas"], 6, True, 80),
    ("reading", (30, 40), [], 0, False, 30),
    ("supply", (60, 90), ["supply"], 2, False, 60),
    ("drain", (45, 60), [], 1, True, 35),
)
WINDOWS = ([[450, 1080]], [[450, 1080]], [[450, 760]], [[720, 1080]], [[450, 700], [800, 1080]])


def made_instance(orders, crews, days, seed, *, fixed=0):
    """Sites around two towns; the same arguments give the same instance."""
    random = Random(seed)
    buildings = [_building(random, number) for number in range(max(2, orders // 2))]
    data = {
        "format": "crew-plan-instance/1",
        "name": f"made-{orders}-{crews}-{days}-{seed}",
        "days": [{"date": f"2031-05-{5 + d:02d}", "offset": d, "weekday": d} for d in range(days)],
        "left_out_offset": days + 6,
        "travel": {"metres_per_minute": 600, "detour_percent": 125, "cost_per_minute": 3},
        "break": {"minutes": 30, "from": 660, "to": 800},
        "restock_minutes": 15,
        "depots": [
            {"id": f"depot{n}", "x": x, "y": 9000, "stock": 2 * orders, "deliveries": {}}
            for n, x in enumerate((9000, 26000)[: 1 if crews < 3 else 2])
        ],
        "buildings": buildings,
        "crews": [_crew(random, number, 1 if crews < 3 else 2) for number in range(crews)],
        "orders": [_order(random, number, buildings, days) for number in range(orders)],
    }
    for number in range(fixed):
        _book(random, data, number)
    return data


def _building(random, number):
    town = random.choice((9000, 26000))
    x, y = round(random.gauss(town, 5000)), round(random.gauss(9000, 5000))
    windows = {str(day): random.choice(WINDOWS) for day in range(5) if random.random() < 0.85}
    return {"id": f"b{number}", "x": x, "y": y, "windows": windows}


def _crew(random, number, depots):
    begin = random.choice((420, 450, 480))
    return {
        "id": f"crew{number}",
        "depot": f"depot{number % depots}",
        "skills": ["gas", "supply"] if number % 2 == 0 else ["gas"],
        "hours": {str(day): [begin, begin + 480] for day in range(5)},
        "absent": [],
        "cylinders": random.choice((6, 8, 10)),
        "overtime_minutes": random.choice((0, 45)),
        "overtime_cost": 5,
    }


def _order(random, number, buildings, days):
    kind, minutes, skills, cylinders, impairs, rate = random.choice(KINDS)
    told = random.randrange(days) if random.random() < 0.15 else None
    return {
        "id": f"order{number}",
        "building": random.choice(buildings)["id"],
        "kind": kind,
        "minutes": random.choice(minutes),
        "skills": skills,
        "cylinders": random.randint(cylinders // 2, cylinders),
        "nitrogen_m3": 0.0,
        "impairs": impairs,
        "delay_rate": max(1, round(rate * random.lognormvariate(0, 0.8))),
        "delay_growth": random.choice((0, 0, 1, 4)),
        "earliest": random.choice((0, 0, 0, max(0, days - 2))),
        "latest": random.choice((None, -2, 1, days)),
        "late_cost": random.choice((20, 60)),
        "told": told,
        "move_cost": 90 if told is not None else 0,
        "fixed": None,
    }


def _book(random, data, number):
    """A booking at an open building, by a crew that has the skills; one a crew and day."""
    order = data["orders"][number]
    building = next(b for b in data["buildings"] if b["id"] == order["building"])
    crew = data["crews"][number % len(data["crews"])]
    if not set(order["skills"]) <= set(crew["skills"]):
        return
    for day in range(len(data["days"])):
        for opens, closes in building["windows"].get(str(day), []):
            if max(opens, 540) + order["minutes"] <= min(closes, 800):
                order["earliest"], order["cylinders"] = 0, min(order["cylinders"], 4)
                start = max(opens, 540)
                order["fixed"] = {"crew": crew["id"], "day": day, "start": start}
                return


def order_of(name="one", **facts):
    """An order of half an hour at the site of a tiny instance."""
    return {
        "id": name,
        "building": "site",
        "kind": "reading",
        "minutes": 30,
        "skills": [],
        "cylinders": 0,
        "nitrogen_m3": 0.0,
        "impairs": False,
        "delay_rate": 100,
        "delay_growth": 0,
        "earliest": 0,
        "latest": None,
        "late_cost": 0,
        "told": None,
        "move_cost": 0,
        "fixed": None,
    } | facts


def tiny_instance(orders, *, crew=None, days=1, **facts):
    """One crew, eight to four, and sites in a row: 10, 20 and 30 minutes from the depot."""
    who = {
        "id": "crew",
        "depot": "depot",
        "skills": ["gas"],
        "hours": {str(day): [480, 960] for day in range(5)},
        "absent": [],
        "cylinders": 10,
        "overtime_minutes": 0,
        "overtime_cost": 5,
    }
    sites = (("site", 10), ("second", 20), ("third", 30))
    return {
        "format": "crew-plan-instance/1",
        "name": "tiny",
        "days": [{"date": f"2031-05-{5 + d:02d}", "offset": d, "weekday": d} for d in range(days)],
        "left_out_offset": days + 6,
        "travel": {"metres_per_minute": 100, "detour_percent": 100, "cost_per_minute": 1},
        "break": {"minutes": 30, "from": 660, "to": 780},
        "restock_minutes": 20,
        "depots": [{"id": "depot", "x": 0, "y": 0, "stock": 50, "deliveries": {}}],
        "buildings": [
            {"id": name, "x": 100 * x, "y": 0, "windows": {str(d): [[0, 1440]] for d in range(5)}}
            for name, x in sites
        ],
        "crews": [who | (crew or {})],
        "orders": orders,
    } | facts
