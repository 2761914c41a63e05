"""Replays a plan's file step by step against the instance: knows nothing of the planner.

Written from the rules alone, on plain dictionaries; a spoilt plan raises Spoilt.
"""

from math import ceil, sqrt


class Spoilt(AssertionError):
    pass


def must(holds, text):
    if not holds:
        raise Spoilt(text)


class Replay:
    def __init__(self, instance):
        self.it = instance
        self.orders = {row["id"]: row for row in instance["orders"]}
        self.crews = {row["id"]: row for row in instance["crews"]}
        self.depots = {row["id"]: row for row in instance["depots"]}
        self.buildings = {row["id"]: row for row in instance["buildings"]}

    def drive(self, one, two):
        spots = {**self.depots, **self.buildings}
        one, two, how = spots[one], spots[two], self.it["travel"]
        metres = ceil(sqrt((one["x"] - two["x"]) ** 2 + (one["y"] - two["y"]) ** 2))
        return ceil(metres * how["detour_percent"] / (100 * how["metres_per_minute"]))

    def loss(self, order, day):
        offset = self.it["left_out_offset"] if day is None else self.it["days"][day]["offset"]
        late = 0 if order["latest"] is None else max(0, offset - order["latest"])
        total = order["delay_rate"] * offset + order["delay_growth"] * offset**2
        total += order["late_cost"] * late
        if order["told"] is not None and order["told"] != day:
            total += order["move_cost"]
        return total

    def value(self, routes):
        """What the routes are worth, and the crew and day of each order done."""
        done, impaired, drawn, cost = {}, set(), {}, 0
        must(len({(r["crew"], r["day"]) for r in routes}) == len(routes), "a crew goes out twice")
        for route in routes:
            names, spent = self._route(route)
            cost += spent
            for name in names:
                must(name not in done, f"{name} is done twice")
                done[name] = route["crew"], route["day"]
                order = self.orders[name]
                depot = self.crews[route["crew"]]["depot"]
                key = depot, route["day"]
                drawn[key] = drawn.get(key, 0) + order["cylinders"]
                if order["impairs"]:
                    spot = order["building"], route["day"]
                    must(spot not in impaired, f"two impair {spot}")
                    impaired.add(spot)
        self._stock(drawn)
        for name, order in self.orders.items():
            must(not order["fixed"] or name in done, f"{name} is booked and missing")
        saved = sum(
            self.loss(self.orders[name], None) - self.loss(self.orders[name], day)
            for name, (_, day) in done.items()
        )
        return saved - cost, done

    def _stock(self, drawn):
        for name, depot in self.depots.items():
            for until in range(len(self.it["days"])):
                there = depot["stock"] + sum(
                    count for day, count in depot["deliveries"].items() if int(day) <= until
                )
                used = sum(n for (of, day), n in drawn.items() if of == name and day <= until)
                must(used <= there, f"{name} has too few cylinders on day {until}")

    def _route(self, route):
        crew, day, steps = self.crews[route["crew"]], route["day"], route["steps"]
        weekday = str(self.it["days"][day]["weekday"])
        must(day not in crew["absent"] and weekday in crew["hours"], "the crew is away")
        begins, ends = crew["hours"][weekday]
        must([s["do"] for s in (steps[0], steps[-1])] == ["leave", "return"], "no leave or return")
        must(steps[0]["start"] >= begins, "leaves too early")
        at, now, van, cost, names, breaks = crew["depot"], begins, 0, 0, [], []
        for step in steps:
            minutes = self.drive(at, step["place"])
            cost += minutes * self.it["travel"]["cost_per_minute"]
            must(step["start"] >= now + minutes, f"{step} begins before the crew is there")
            at, now = step["place"], step["end"]
            length = step["end"] - step["start"]
            if step["do"] == "work":
                names.append(step["order"])
                order = self._work(step, crew, day, weekday)
                must(length == order["minutes"], "work of another length")
                van -= order["cylinders"]
            elif step["do"] == "break":
                breaks.append(step["start"])
                must(length >= self.it["break"]["minutes"], "a short break")
            else:
                must(at == crew["depot"], f"{step} at another place than the depot")
                van += step.get("cylinders", 0)
                restocks = step["do"] == "restock"
                must(not restocks or length >= self.it["restock_minutes"], "a short restock")
            must(0 <= van <= crew["cylinders"], f"{van} cylinders on the van")
        pause = self.it["break"]
        must(len(breaks) == 1 or not breaks and now <= pause["to"], "not one break")
        must(all(pause["from"] <= b <= pause["to"] for b in breaks), "a break at a wrong hour")
        must(now <= ends + crew["overtime_minutes"], "home too late")
        must(names, "a day without work")
        return names, cost + max(0, now - ends) * crew["overtime_cost"]

    def _work(self, step, crew, day, weekday):
        order = self.orders[step["order"]]
        must(step["place"] == order["building"], "work at another place")
        must(set(order["skills"]) <= set(crew["skills"]), "a skill is missing")
        must(self.it["days"][day]["offset"] >= order["earliest"], "before it counts")
        windows = self.buildings[order["building"]]["windows"].get(weekday, [])
        must(any(a <= step["start"] and step["end"] <= b for a, b in windows), "a closed building")
        booked = order["fixed"]
        here = {"crew": crew["id"], "day": day, "start": step["start"]}
        must(booked is None or booked == here, "a booking that moved")
        return order


def replay(instance, plan):
    """Everything the plan claims, redone; the value."""
    of = Replay(instance)
    value, done = of.value(plan["routes"])
    must(value == plan["value"], f"claims {plan['value']}, is worth {value}")
    if plan["bound"] is not None:
        must(plan["bound"] >= value, "a bound below the value")
        gap = (plan["bound"] - value) / max(1, abs(value))
        must(abs(gap - plan["gap"]) < 1e-6, "another gap")
    must(plan["status"] != "optimal" or plan["bound"] == value, "optimal without a proof")
    out = set(of.orders) - set(done)
    explained = sorted(row["order"] for row in plan["left_out"])
    must(explained == sorted(out), "reasons for others than those out")
    for row in plan["left_out"]:
        if row["kind"] != "cannot":
            _replay_reason(of, plan, value, done, row)
    told = {name: order["told"] for name, order in of.orders.items() if order["told"] is not None}
    moved = {name for name, day in told.items() if name not in done or done[name][1] != day}
    must(set(plan["moved"]) == moved, "others are moved")
    return value


def _replay_reason(of, plan, value, done, row):
    swapped = {(r["crew"], r["day"]) for r in row["routes"]}
    stay = [r for r in plan["routes"] if (r["crew"], r["day"]) not in swapped]
    other, kept = of.value(stay + [r for r in row["routes"] if r["steps"]])
    must(row["order"] in kept, "the evidence does not hold the order")
    must(set(row["displaces"]) == set(done) - set(kept), "displaces others")
    must((row["kind"] == "displaces") == bool(row["displaces"]), "another kind of reason")
    must(row["costs_more"] == value - other >= 0, "costs something else")
