"""The proof that closes the gap: list every route that a better plan could hold, and choose.

A plan worth more than the best one so far loses, over all its days together, less than the gap to
the bound. So each of its routes loses less than the gap. When all such routes are listed and the
choice among them is solved to the end, its result is the best of all plans.
"""

from dataclasses import dataclass, replace

from scheduling.crews.board import Routes
from scheduling.crews.columns import Choice, Column, Limits, choose, column_found
from scheduling.crews.labels import Label, Table, sequence
from scheduling.crews.pricing import SCALE, Memory, Menu, menu
from scheduling.crews.problem import Problem
from scheduling.crews.relaxing import Bound, Work


@dataclass(frozen=True)
class Closed:
    """The best plan of all, proven."""

    routes: dict[int, tuple[int, ...]]
    value: int


def close(
    problem: Problem,
    limits: Limits,
    bound: Bound,
    routes: Routes,
    value: int,
    *,
    work: Work,
    most_labels: int,
    most_routes: int,
    most_nodes: int,
) -> Closed | None:
    """The best plan of all, or None where a limit was met and nothing is proven."""
    slack = bound.scaled - (value + 1) * SCALE
    if slack < 0:
        return Closed(dict(routes), value)
    columns: dict[tuple[int, frozenset[int]], Column] = {}
    for shift in problem.shifts:
        asked = menu(
            problem,
            shift,
            bound.prices,
            Memory(),
            threshold=bound.terms[shift.number] - slack - 1,
            least=-slack - 1,
        )
        listed = every_route(asked, most_labels - work.labels)
        if listed is None:
            work.labels = max(work.labels, most_labels)
            return None
        found, labels = listed
        work.labels += labels
        for gross, orders in found:
            column = column_found(bound.prices, problem, shift, gross, orders)
            columns[shift.number, frozenset(orders)] = column
        if len(columns) > most_routes:
            return None
    work.columns += len(columns)
    chosen = choose(limits, list(columns.values()), nodes=most_nodes)
    return _closed(chosen, routes, value, work)


def _closed(chosen: Choice | None, routes: Routes, value: int, work: Work) -> Closed | None:
    if chosen is None:
        return Closed(dict(routes), value)  # no choice at all among what a better plan could hold
    work.nodes += chosen.nodes
    if not chosen.is_best:
        return None
    if chosen.value > value:
        return Closed(chosen.routes, chosen.value)
    return Closed(dict(routes), value)


def every_route(menu: Menu, limit: int) -> tuple[list[tuple[int, tuple[int, ...]]], int] | None:
    """The best route above the threshold for each set of orders, with labels made; None: too many.

    Labels are compared only where they have visited exactly the same orders.
    """
    count = len(menu.orders)
    marked = tuple(bits | 1 << count + number for number, bits in enumerate(menu.forbids))
    asked = replace(menu, forbids=marked, near=(-1,) * count)
    table, packing = Table(asked), _Packing(asked)
    best: dict[int, tuple[int, Label]] = {}
    kept: dict[tuple[int, int], list[tuple[int, int, bool]]] = {}
    latest, made = menu.shift.latest, 0
    for now in range(menu.shift.begin, latest + 1):
        for label in table.at[now]:
            at, worth, left, broken, seen, _ = label
            beyond, need = table.beyond(at, now)
            if menu.must & beyond & ~seen:
                continue
            if worth + packing.most(latest - now, seen | beyond) <= menu.threshold:
                continue
            rows = kept.setdefault((at, seen), [])
            if any(w >= worth and n >= left and b >= broken for w, n, b in rows):
                continue
            rows.append((worth, left, broken))
            made += 1
            if made > limit:
                return None
            if not menu.must & ~seen and (cost := table.home_cost(at, now, broken)) is not None:
                gross = worth - cost
                visited = seen >> count
                if gross > menu.threshold and (visited not in best or gross > best[visited][0]):
                    best[visited] = gross, label
            table.extend(label, now, need, ~(seen | beyond))
    found = [(gross, sequence(menu, label)) for gross, label in best.values()]
    return sorted(found, key=lambda route: (-route[0], route[1])), made


class _Packing:
    """Orders by worth a minute, cut up to fill the time that is left: more than any route adds."""

    def __init__(self, menu: Menu) -> None:
        pieces = []
        for order, worth in enumerate(menu.net):
            others = [row[order] for number, row in enumerate(menu.drive) if number != order]
            nearest = min([menu.out[order], *others])
            gain = worth - nearest * menu.drive_cost
            if gain > 0:
                pieces.append((gain, menu.minutes[order] + nearest, 1 << order))
        self.pieces = sorted(pieces, key=lambda piece: (-piece[0] / piece[1], piece))
        self.home = min(menu.out, default=0)
        self.way_home = self.home * menu.drive_cost

    def most(self, minutes: int, closed: int) -> int:
        room, total = minutes - self.home, -self.way_home
        for gain, length, bit in self.pieces:
            if closed & bit:
                continue
            if length >= room:
                return total - (-gain * max(0, room) // length)
            total += gain
            room -= length
        return total
