"""The best plan of a small instance by trying everything: each sequence, restock and break."""

from itertools import permutations, product

from tests.scheduling.crews.replay import Replay


class Oracle(Replay):
    def best_value(self):
        """The value of the best plan; None where the fixed bookings cannot be kept."""
        days = range(len(self.it["days"]))
        shifts = [(crew, day) for crew in self.crews for day in days if self._hours(crew, day)]
        return self._best(shifts, [self._days_of(*shift) for shift in shifts], {}, 0)

    def _hours(self, crew, day):
        row = self.crews[crew]
        weekday = str(self.it["days"][day]["weekday"])
        return None if day in row["absent"] else row["hours"].get(weekday)

    def _best(self, shifts, choices, done, position):
        """Over all ways to give each crew and day one of its sets of orders, or none."""
        if position == len(shifts):
            return self._worth(done)
        best = self._best(shifts, choices, done, position + 1)
        crew, day = shifts[position]
        for orders, cost in choices[position].items():
            if not orders & done.keys():
                also = done | dict.fromkeys(orders, (crew, day))
                value = self._best(shifts, choices, also, position + 1)
                if value is not None and (best is None or value - cost > best):
                    best = value - cost
        return best

    def _worth(self, done):
        """What the orders save, or None where together they break a rule."""
        if any(order["fixed"] and name not in done for name, order in self.orders.items()):
            return None
        drawn, impaired = {}, set()
        for name, (crew, day) in done.items():
            order, depot = self.orders[name], self.crews[crew]["depot"]
            drawn[depot, day] = drawn.get((depot, day), 0) + order["cylinders"]
            if order["impairs"]:
                if (order["building"], day) in impaired:
                    return None
                impaired.add((order["building"], day))
        try:
            self._stock(drawn)
        except AssertionError:
            return None
        return sum(
            self.loss(self.orders[name], None) - self.loss(self.orders[name], day)
            for name, (_, day) in done.items()
        )

    def _days_of(self, crew, day):
        """The least cost of each set of orders that the crew can do on the day."""
        names = [name for name in self.orders if self._may(crew, day, name)]
        booked = {
            name
            for name, order in self.orders.items()
            if order["fixed"] and (order["fixed"]["crew"], order["fixed"]["day"]) == (crew, day)
        }
        best = {}
        for count in range(1, len(names) + 1):
            found = False
            for sequence in permutations(names, count):
                cost = self._cheapest(crew, day, sequence)
                found = found or cost is not None
                if cost is not None and booked <= set(sequence):
                    key = frozenset(sequence)
                    best[key] = min(cost, best.get(key, cost))
            if not found:
                break
        return best

    def _may(self, crew, day, name):
        order = self.orders[name]
        booked = order["fixed"]
        return (
            set(order["skills"]) <= set(self.crews[crew]["skills"])
            and self.it["days"][day]["offset"] >= order["earliest"]
            and (booked is None or (booked["crew"], booked["day"]) == (crew, day))
        )

    def _cheapest(self, crew, day, sequence):
        costs = []
        for restocks in product((False, True), repeat=len(sequence) - 1):
            places = [sequence[0]]
            for name, restock in zip(sequence[1:], restocks, strict=True):
                places += [None, name] if restock else [name]
            if self._loads(crew, places):
                for breaks in [None, *product(range(len(places) + 1), ("before", "after"))]:
                    costs.append(self._drive_through(crew, day, places, breaks))
        return min((cost for cost in costs if cost is not None), default=None)

    def _loads(self, crew, places):
        used = 0
        for name in places:
            used = 0 if name is None else used + self.orders[name]["cylinders"]
            if used > self.crews[crew]["cylinders"]:
                return False
        return True

    def _drive_through(self, crew, day, places, breaks):
        who, (now, ends), pause = self.crews[crew], self._hours(crew, day), self.it["break"]
        at, driven = who["depot"], 0
        for position, name in enumerate([*places, "home"]):
            there = who["depot"] if name in (None, "home") else self.orders[name]["building"]
            minutes = self.drive(at, there)
            driven += minutes
            for when in ("before", "after"):
                if breaks == (position, when):
                    now = max(now, pause["from"])
                    if now > pause["to"]:
                        return None
                    now += pause["minutes"]
                now += minutes if when == "before" else 0
            at = there
            if name is None:
                now += self.it["restock_minutes"]
            elif name != "home":
                now = self._finish(name, day, now)
                if now is None:
                    return None
        late = max(0, now - ends)
        if late > who["overtime_minutes"] or breaks is None and now > pause["to"]:
            return None
        return driven * self.it["travel"]["cost_per_minute"] + late * who["overtime_cost"]

    def _finish(self, name, day, now):
        order = self.orders[name]
        weekday = str(self.it["days"][day]["weekday"])
        windows = self.buildings[order["building"]]["windows"].get(weekday, [])
        if order["fixed"]:
            start = order["fixed"]["start"]
            inside = any(a <= start and start + order["minutes"] <= b for a, b in windows)
            return start + order["minutes"] if inside and now <= start else None
        ends = (
            max(now, a) + order["minutes"]
            for a, b in windows
            if max(now, a) + order["minutes"] <= b
        )
        return min(ends, default=None)
