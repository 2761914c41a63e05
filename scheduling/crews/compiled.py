"""The search of `labels`, compiled: the same labels in the same order, some fifteen times quicker.

numba is loaded here alone, when a plan of more than 60 orders asks for it: it takes half a second
to load and, the first time on a machine, some ten to compile.
"""

from collections.abc import Sequence
from typing import Any

import numba
import numpy as np

from scheduling.crews.pricing import Found, Menu

BITS = 62  # of a word: signed, so that no operation leaves the whole numbers
NONE = -1


def search(menu: Menu, *, is_quick: bool, limit: int) -> Found:
    """As `labels.search`: equal routes, equal counts."""
    if not menu.orders:
        return Found(None, (), 0, True)
    shift, words = menu.shift, -(-len(menu.orders) // BITS)
    day = np.array(
        [
            shift.begin, shift.end, shift.latest, shift.van, menu.restock_minutes, *menu.pause,
            menu.drive_cost, menu.overtime_cost, menu.threshold,
        ],
        np.int64,
    )  # fmt: skip
    made, at, before, ends, worth = _search(
        day,
        np.array([menu.net, menu.minutes, menu.cylinders, menu.last, menu.out], np.int64),
        np.array(menu.drive, np.int64),
        _windows(menu),
        np.array(menu.more, np.int64),
        np.array([_words(bits, words) for bits in menu.forbids], np.int64),
        np.array([_words(bits, words) for bits in menu.near], np.int64),
        np.array(_words(menu.must, words), np.int64),
        is_quick,
        limit,
    )
    if made > limit:
        return Found(None, (), int(made), False)
    routes = [
        (int(worth[order]), _sequence(menu, int(end), at, before))
        for order, end in enumerate(ends)
        if end != NONE
    ]
    routes.sort(key=lambda route: (-route[0], route[1]))
    return Found(routes[0][0] if routes else None, tuple(routes), int(made), True)


def _words(bits: int, words: int) -> list[int]:
    return [bits >> BITS * word & (1 << BITS) - 1 for word in range(words)]


def _windows(menu: Menu) -> Any:
    """Opening and closing minutes by order; what is not there never holds any work."""
    most = max(len(windows) for windows in menu.windows)
    found = np.zeros((len(menu.orders), most, 2), np.int64)
    for order, windows in enumerate(menu.windows):
        for number, span in enumerate(windows):
            found[order, number] = span
    return found


def _sequence(menu: Menu, label: int, at: Sequence[int], before: Sequence[int]) -> tuple[int, ...]:
    found = []
    while label != NONE:
        found.append(menu.orders[at[label]])
        label = int(before[label])
    return tuple(reversed(found))


def _jit(function: Any) -> Any:
    """Compiled and kept on disk, where there is a place to keep it."""
    try:
        return numba.njit(cache=True)(function)
    except RuntimeError:
        return numba.njit(function)


@_jit
def _start(windows, minutes, order, arrives):  # type: ignore[no-untyped-def]
    for number in range(windows.shape[1]):
        start = max(arrives, windows[order, number, 0])
        if start + minutes[order] <= windows[order, number, 1]:
            return start
    return -1


@_jit
def _ways(day, windows, minutes, last, order, now, drive, broken, ends, breaks, count):  # type: ignore[no-untyped-def]
    """Ends of the work and whether the break is taken, from `count` on; how many there are then."""
    length, opens, closes = day[5], day[6], day[7]
    arrives = now + drive
    if broken:
        if arrives <= last[order]:
            ends[count] = _start(windows, minutes, order, arrives) + minutes[order]
            breaks[count] = True
            count += 1
        return count
    end = -1
    if arrives <= last[order]:
        end = _start(windows, minutes, order, arrives) + minutes[order]
    if end > closes:
        end = -1
    if end >= 0 and (end - minutes[order] <= opens or end - minutes[order] == arrives):
        ends[count], breaks[count] = end, False
        return count + 1
    late = -1
    if arrives <= closes:
        late = max(arrives, opens) + length
    elif now <= closes:
        late = max(now, opens) + length + drive
    if late >= 0 and late <= last[order]:
        after = _start(windows, minutes, order, late) + minutes[order]
        ends[count], breaks[count] = after, True
        count += 1
        if after == end:
            return count
    if end >= 0:
        ends[count], breaks[count] = end, False
        count += 1
    return count


@_jit
def _search(day, facts, drive, windows, more, forbids, near, must, is_quick, limit):  # type: ignore[no-untyped-def]
    begin, end_, latest, van, restock = day[0], day[1], day[2], day[3], day[4]
    length, opens, closes = day[5], day[6], day[7]
    drive_cost, overtime_cost, threshold = day[8], day[9], day[10]
    net, minutes, cylinders, last, out = facts
    orders, words = forbids.shape
    room = 4096
    at = np.empty(room, np.int32)
    before = np.empty(room, np.int32)
    follows = np.empty(room, np.int32)  # the next label of the same minute
    worth = np.empty(room, np.int64)
    left = np.empty(room, np.int32)
    broken = np.empty(room, np.bool_)
    seen = np.empty((room, words), np.int64)
    first = np.full(latest + 1, -1, np.int32)
    final = np.full(latest + 1, -1, np.int32)
    kept = np.full(orders, -1, np.int32)  # the dearest label kept at each order
    kept_next = np.empty(room, np.int32)
    ends = np.full(orders, -1, np.int32)
    end_worth = np.zeros(orders, np.int64)
    beyond = np.zeros(words, np.int64)
    done = np.empty(8, np.int64)
    breaks = np.empty(8, np.bool_)
    count, made = 0, 0
    for now in range(begin - 1, latest + 1):
        label = -1
        if now >= begin:
            label = first[now]
            if label < 0:
                continue
        while True:
            # The first turn leaves the depot; each other one looks at a label.
            here = -1
            if now >= begin:
                here = at[label]
                if worth[label] + more[latest - now] <= threshold:
                    label = follows[label]
                    if label < 0:
                        break
                    continue
                need = 0
                beyond[:] = 0
                for j in range(orders):
                    if now + drive[here, j] > last[j]:
                        beyond[j // 62] |= 1 << (j % 62)
                    else:
                        need += cylinders[j]
                is_live, dearer, other = True, -1, -1
                for word in range(words):
                    if must[word] & beyond[word] & ~seen[label, word]:
                        is_live = False
                has = min(left[label], need)
                if is_live:
                    dearer, other = -1, kept[here]
                    while other >= 0 and worth[other] >= worth[label]:
                        if left[other] >= has and broken[other] >= broken[label]:
                            is_better = True
                            for word in range(words):
                                mine, its = seen[label, word], seen[other, word]
                                allowed = mine | beyond[word]
                                if must[word] & mine & ~its or not is_quick and its & ~allowed:
                                    is_better = False
                            if is_better:
                                is_live = False
                                break
                        dearer, other = other, kept_next[other]
                if not is_live:
                    label = follows[label]
                    if label < 0:
                        break
                    continue
                # As in `labels`: kept with the cylinders it can use, it goes on with all.
                full = left[label]
                left[label] = has
                kept_next[label] = other
                if dearer < 0:
                    kept[here] = label
                else:
                    kept_next[dearer] = label
                made += 1
                if made > limit:
                    return made, at, before, ends, end_worth
                is_whole = True
                for word in range(words):
                    if must[word] & ~seen[label, word]:
                        is_whole = False
                home = now + out[here]
                if not broken[label] and home > closes:
                    home += max(now, opens) - now + length
                if is_whole and home <= latest:
                    cost = out[here] * drive_cost + max(0, home - end_) * overtime_cost
                    if ends[here] < 0 or worth[label] - cost > end_worth[here]:
                        ends[here], end_worth[here] = label, worth[label] - cost
            if count + 5 * orders > room:
                room = 2 * room + 5 * orders
                at = _longer(at, count, room)
                before = _longer(before, count, room)
                follows = _longer(follows, count, room)
                worth = _longer(worth, count, room)
                left = _longer(left, count, room)
                broken = _longer(broken, count, room)
                kept_next = _longer(kept_next, count, room)
                wider = np.empty((room, words), np.int64)
                wider[:count] = seen[:count]
                seen = wider
            for j in range(orders):
                if here < 0:
                    ways = _ways(
                        day, windows, minutes, last, j, begin, out[j], False, done, breaks, 0
                    )
                    direct = ways
                else:
                    word, bit = j // 62, 1 << (j % 62)
                    if (seen[label, word] | beyond[word]) & bit:
                        continue
                    ways, has_break = 0, broken[label]
                    if full >= cylinders[j]:
                        ways = _ways(
                            day, windows, minutes, last, j, now, drive[here, j], has_break,
                            done, breaks, 0,
                        )  # fmt: skip
                    direct = ways
                    if full < van and full < need:
                        there = now + out[here]
                        ready = there + restock
                        if not has_break and ready > closes:
                            late = max(now, opens) + out[here]
                            if there <= closes:
                                late = max(there, opens)
                            ready, has_break = late + length + restock, True
                        ways = _ways(
                            day, windows, minutes, last, j, ready, out[j], has_break,
                            done, breaks, ways,
                        )  # fmt: skip
                for way in range(ways):
                    end = done[way]
                    if here < 0:
                        cost, has = out[j] * drive_cost, van
                    elif way >= direct:
                        cost, has = (out[here] + out[j]) * drive_cost, van
                    else:
                        cost, has = drive[here, j] * drive_cost, full
                    if has < cylinders[j]:
                        continue
                    at[count], before[count], follows[count] = j, label, -1
                    worth[count] = net[j] - cost + (worth[label] if here >= 0 else 0)
                    left[count] = has - cylinders[j]
                    broken[count] = breaks[way]
                    for word in range(words):
                        memory = seen[label, word] & near[j, word] if here >= 0 else 0
                        seen[count, word] = memory | forbids[j, word]
                    if first[end] < 0:
                        first[end] = count
                    else:
                        follows[final[end]] = count
                    final[end] = count
                    count += 1
            if here < 0:
                break
            label = follows[label]
            if label < 0:
                break
    return made, at, before, ends, end_worth


@_jit
def _longer(array, count, room):  # type: ignore[no-untyped-def]
    wider = np.empty(room, array.dtype)
    wider[:count] = array[:count]
    return wider
