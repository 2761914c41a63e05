"""The search for routes in plain Python, with sets as whole numbers: enough up to 60 orders."""

from bisect import bisect_left, insort
from collections.abc import Iterator
from typing import NamedTuple, Optional

from scheduling.crews.pricing import NEVER, Found, Menu, starts

EVERY = -1  # as bits: all orders
Kept = tuple[int, int, bool, int]  # less its worth, cylinders, break taken, orders seen


class Label(NamedTuple):
    """A part of a route: from the depot to the end of the work at `at`."""

    at: int
    worth: int
    left: int  # cylinders
    broken: bool  # the break is taken
    seen: int  # as bits: orders it may not visit again
    before: Optional["Label"]


def search(menu: Menu, *, is_quick: bool, limit: int) -> Found:
    """The best routes of the menu.

    A label goes when another at the same order is as early, worth as much, holds as many cylinders,
    has its break and may visit whatever it may. `is_quick` forgets the last of these: nearly all
    good routes are found in a fraction of the time, and nothing is proven.
    """
    table = Table(menu)
    kept: list[list[Kept]] = [[] for _ in menu.orders]
    ends: list[tuple[int, Label] | None] = [None] * len(menu.orders)
    must, made = menu.must, 0
    for now in range(menu.shift.begin, menu.shift.latest + 1):
        for label in table.at[now]:
            at, worth, left, broken, seen, _ = label
            if worth + menu.more[menu.shift.latest - now] <= menu.threshold:
                continue
            beyond, need = table.beyond(at, now)
            if must & beyond & ~seen:
                continue
            left = min(left, need)
            allowed = EVERY if is_quick else seen | beyond
            row = (-worth, left, broken, seen)
            if _is_beaten(row, kept[at], allowed, must & seen):
                continue
            insort(kept[at], row)
            made += 1
            if made > limit:
                return Found(None, (), made, False)
            if not must & ~seen and (cost := table.home_cost(at, now, broken)) is not None:
                best = ends[at]
                if best is None or worth - cost > best[0]:
                    ends[at] = worth - cost, label
            table.extend(label, now, need, ~(seen | beyond))
    routes = [(end[0], sequence(menu, end[1])) for end in ends if end]
    routes.sort(key=lambda route: (-route[0], route[1]))
    return Found(routes[0][0] if routes else None, tuple(routes), made, True)


def _is_beaten(row: Kept, rows: list[Kept], allowed: int, owed: int) -> bool:
    """Is one of the rows, dearest first, as good in everything? It must have met what is `owed`."""
    less_worth, left, broken, _ = row
    for least, has, is_broken, seen in rows:
        if least > less_worth:
            return False
        if has >= left and is_broken >= broken and not seen & ~allowed and not owed & ~seen:
            return True
    return False


def sequence(menu: Menu, label: Label | None) -> tuple[int, ...]:
    found = []
    while label:
        found.append(menu.orders[label.at])
        label = label.before
    return tuple(reversed(found))


class Table:
    """The menu laid out for the search, and the labels still to be looked at by minute."""

    def __init__(self, menu: Menu) -> None:
        self.menu = menu
        self.at: list[list[Label]] = [[] for _ in range(menu.shift.latest + 1)]
        self.starts = [starts(w, m) for w, m in zip(menu.windows, menu.minutes, strict=True)]
        self._beyond = [self._deadlines(row) for row in menu.drive]
        self._leave()

    def _leave(self) -> None:
        """The first orders of the day."""
        shift, menu = self.menu.shift, self.menu
        for order, out in enumerate(menu.out):
            for end, broken in self._ways(order, shift.begin, out, False):
                self._add(order, end, -out * menu.drive_cost, shift.van, broken, 0, None)

    def _deadlines(self, row: tuple[int, ...]) -> tuple[list[int], list[int], list[int]]:
        """Latest minutes to leave for each order, sorted; what is beyond reach and needed after."""
        by_time = sorted((last - row[j], j) for j, last in enumerate(self.menu.last))
        beyond, need = [0], [sum(self.menu.cylinders)]
        for _, order in by_time:
            beyond.append(beyond[-1] | 1 << order)
            need.append(need[-1] - self.menu.cylinders[order])
        return [time for time, _ in by_time], beyond, need

    def beyond(self, at: int, now: int) -> tuple[int, int]:
        """Orders out of reach by now, as bits, and the cylinders that those in reach can use."""
        times, beyond, need = self._beyond[at]
        spot = bisect_left(times, now)
        return beyond[spot], need[spot]

    def home_cost(self, at: int, now: int, broken: bool) -> int | None:
        """Driving home and overtime; None when it cannot be."""
        shift, menu = self.menu.shift, self.menu
        minutes, opens, closes = menu.pause
        home = now + menu.out[at]
        if not broken and home > closes:
            home += max(now, opens) - now + minutes
        if home > shift.latest:
            return None
        late = max(0, home - shift.end)
        return menu.out[at] * menu.drive_cost + late * menu.overtime_cost

    def extend(self, label: Label, now: int, need: int, open_: int) -> None:
        at, worth, left, broken, seen, _ = label
        menu = self.menu
        back, restocks = menu.out[at], left < menu.shift.van and left < need
        for order, minutes in enumerate(menu.drive[at]):
            if not open_ >> order & 1:
                continue
            if left >= menu.cylinders[order]:
                cost = worth - minutes * menu.drive_cost
                for end, after in self._ways(order, now, minutes, broken):
                    self._add(order, end, cost, left, after, seen, label)
            if restocks:
                cost = worth - (back + menu.out[order]) * menu.drive_cost
                for end, after in self._via_depot(order, now, back, broken):
                    self._add(order, end, cost, menu.shift.van, after, seen, label)

    def _ways(self, order: int, now: int, drive: int, broken: bool) -> Iterator[tuple[int, bool]]:
        """When the work can end, and whether the break is taken by then.

        A break before the work is looked at only where it fills a wait, or where the work lasts
        beyond the hours of the break: else one after the work is never worse.
        """
        menu, arrives = self.menu, now + drive
        minutes, last, begin = menu.minutes[order], menu.last[order], self.starts[order]
        if broken:
            if arrives <= last:
                yield begin[arrives] + minutes, True
            return
        length, opens, closes = menu.pause
        end = begin[arrives] + minutes if arrives <= last else NEVER
        if end > closes:
            end = NEVER
        if end != NEVER and (end - minutes <= opens or end - minutes == arrives):
            yield end, False
            return
        late = NEVER
        if arrives <= closes:
            late = max(arrives, opens) + length
        elif now <= closes:
            late = max(now, opens) + length + drive
        if late != NEVER and late <= last:
            after = begin[late] + minutes
            yield after, True
            if after == end:
                return
        if end != NEVER:
            yield end, False

    def _via_depot(
        self, order: int, now: int, back: int, broken: bool
    ) -> Iterator[tuple[int, bool]]:
        """The same by way of the depot; a break on the second leg is never worse where it fits."""
        menu = self.menu
        length, opens, closes = menu.pause
        full = now + back + menu.restock_minutes
        if not broken and full > closes:
            there = now + back
            late = max(there, opens) if there <= closes else max(now, opens) + back
            full, broken = late + length + menu.restock_minutes, True
        yield from self._ways(order, full, menu.out[order], broken)

    def _add(
        self,
        order: int,
        end: int,
        worth: int,
        left: int,
        broken: bool,
        seen: int,
        before: Label | None,
    ) -> None:
        menu = self.menu
        if left >= menu.cylinders[order]:
            label = Label(
                order,
                worth + menu.net[order],
                left - menu.cylinders[order],
                broken,
                seen & menu.near[order] | menu.forbids[order],
                before,
            )
            self.at[end].append(label)
