"""The model written a second time, one object after the other, in plain Python.

What the array form is compared with, for speed and for its numbers. No NumPy and none of the
package's array code: only its scalar physics, constants and dataclasses.
"""

import math
from dataclasses import dataclass

from registry.corrosion.assess import HORIZONS, QUANTILES
from registry.corrosion.evidence import MEAN_DATING
from registry.corrosion.inputs import CONSEQUENCE_MULTIPLIER, IN_MODEL, Leak, SystemInput
from registry.corrosion.prior import NODES, REACH, REACH_BELOW
from registry.corrosion.readings import ROUGHNESS
from registry.corrosion.score import CERTAIN
from registry.corrosion.seen import FACTORS
from tests.benchmarks.plain_ledger import runs_of

EULER_GAMMA = 0.5772156649015329


@dataclass
class Result:
    leak_probability: list[float]
    score: float
    life: list[float]
    theta: list[float]
    run_loss: list[list[float]]
    run_left: list[float]


def normal_cdf(z: float) -> float:
    return 0.5 * math.erfc(-z / math.sqrt(2))


def assess(system: SystemInput, horizons: tuple[float, ...] = HORIZONS) -> Result:
    return Plain(system).result(horizons)


class Plain:
    def __init__(self, system: SystemInput):
        self.system, self.assumed = system, system.assumptions
        self.runs = runs_of(system)
        self.theta = _nodes(system)
        self.walls = [w for w in system.walls if not w.is_baseline]
        self.read = sorted({w.run for w in self.walls})
        steps = [-3 + 6 * k / (FACTORS - 1) for k in range(FACTORS)]
        self.factor = [math.exp(self.assumed.run_spread * step) for step in steps]
        chance = [math.exp(-0.5 * step * step) for step in steps]
        self.usual = [one / sum(chance) for one in chance]
        self._watch()
        self._believe()

    def _watch(self) -> None:
        s, a = self.system, self.assumed
        known = math.inf if s.book_began_yr is None else s.book_began_yr - a.leaks_known_years
        since = min(max(s.installed_yr, known), s.now_yr)
        found = [max(min(leak.found_yr, s.now_yr), since) for leak in _explained(s)]
        until = max([since, s.now_yr - MEAN_DATING * a.leak_dating_years, *found])
        self.unread = self._unread(until, since)
        self.expected = {r: self._read(r, until, since) for r in self.read}
        self.watched = max(self._sites(until) - self._sites(since), 0.0)

    def _sites(self, time: float) -> float:
        return sum(run.through(time) for run in self.runs)

    def _unread(self, late: float, early: float) -> list[float]:
        """Leaks expected between two times on runs never read, for each node."""
        found = [0.0] * len(self.theta)
        for at, run in enumerate(self.runs):
            if at not in self.read:
                now, then = run.depth(late), run.depth(early)
                for j, node in enumerate(self.theta):
                    found[j] += run.leaks(now, node) - run.leaks(then, node)
        return found

    def _read(self, at: int, late: float, early: float) -> list[list[float]]:
        run = self.runs[at]
        now, then = run.depth(late), run.depth(early)
        return [
            [max(run.leaks(now, t * f) - run.leaks(then, t * f), 0.0) for f in self.factor]
            for t in self.theta
        ]

    def _believe(self) -> None:
        plain = [
            p - e for p, e in zip(_log_prior(self.system, self.theta), self.unread, strict=True)
        ]
        for row in self._coupons():
            plain = [p + r for p, r in zip(plain, row, strict=True)]
        own = {r: self._shares(r, []) for r in self.read}
        after = {r: self._shares(r, [w for w in self.walls if w.run == r]) for r in self.read}
        self.own = {r: shares for r, (_, shares) in after.items()}
        leaks = [self._leak(leak) for leak in _explained(self.system)]
        a = self.assumed
        odds = math.log(a.active_share) - math.log1p(-a.active_share)
        for sign in self.system.signs:
            odds += math.log(getattr(a, f"sign_{sign}"))
        score = [p + sum(own[r][0][j] for r in self.read) for j, p in enumerate(plain)]
        without, active, _ = self._with_leaks(score, leaks, odds)
        thinner = [self._thinner(w, without, own[w.run][1]) for w in self.walls]
        odds += self._unexplained(thinner)
        score = [p + sum(after[r][0][j] for r in self.read) for j, p in enumerate(plain)]
        self.weights, _, self.terms = self._with_leaks(score, leaks, odds)
        believed = sum(w * t for w, t in zip(without, self.theta, strict=True))
        on_site = active * a.site_read_if_active + (1 - active) * a.site_read_if_quiet
        self.spots = [(believed, on_site / (on_site + t)) for t in thinner]

    def _shares(self, at: int, walls) -> tuple[list[float], list[list[float]]]:
        """For each node: ln of what a run's evidence comes to, and the shares of its factor."""
        total, shares = [], []
        for j in range(len(self.theta)):
            row = [math.log(p) - e for p, e in zip(self.usual, self.expected[at][j], strict=True)]
            for wall in walls:
                for k in range(FACTORS):
                    row[k] += self._log_reading(wall, self.theta[j] * self.factor[k])
            top = max(row)
            weights = [math.exp(one - top) for one in row]
            total.append(top + math.log(sum(weights)))
            shares.append([one / sum(weights) for one in weights])
        return total, shares

    def _reading(self, wall, multiple: float):
        a, run = self.assumed, self.runs[wall.run]
        depth = run.depth(wall.at_yr)
        if wall.method == "full_scan":
            depth *= a.pit_location + EULER_GAMMA * a.pit_scale
        lost = min(max(depth * multiple - run.zinc, 0.0), 0.98 * run.wall)
        hidden = min(ROUGHNESS[wall.dressed] * a.rough_bias * lost, a.rough_bias_most_m)
        error = max(a.gauge_error_m if wall.error_m is None else wall.error_m, 1e-6)
        plain = math.hypot(error, 0.0 if run.has_baseline else a.mill_spread * run.wall)
        q = min(max(getattr(a, f"on_attack_{wall.method}"), 1e-6), 1 - 1e-6)
        return q, run.wall - lost + hidden, math.hypot(plain, a.local_spread * lost), plain

    def _log_reading(self, wall, multiple: float) -> float:
        run = self.runs[wall.run]
        if wall.at_yr < run.input.installed_yr:
            return 0.0
        q, mean, on, off = self._reading(wall, multiple)
        m = min(wall.remaining_m, run.wall)
        first = math.log(q) - 0.5 * ((m - mean) / on) ** 2 - math.log(on)
        second = math.log1p(-q) - 0.5 * ((m - run.wall) / off) ** 2 - math.log(off)
        top = max(first, second)
        return top + math.log(math.exp(first - top) + math.exp(second - top))

    def _thinner(self, wall, without, shares) -> float:
        run, total = self.runs[wall.run], 0.0
        m = min(wall.remaining_m, run.wall)
        for j, node in enumerate(self.theta):
            for k, factor in enumerate(self.factor):
                q, mean, on, off = self._reading(wall, node * factor)
                chance = q * normal_cdf((m - mean) / on) + (1 - q) * normal_cdf(
                    (m - run.wall) / off
                )
                total += without[j] * shares[j][k] * chance
        return min(max(total, 1e-300), 1.0)

    def _unexplained(self, thinner: list[float]) -> float:
        a, worst = self.assumed, {}
        for wall, chance in zip(self.walls, thinner, strict=True):
            ratio = math.log(chance + a.site_read_if_active)
            ratio -= math.log(chance + a.site_read_if_quiet)
            if wall.at_yr < self.runs[wall.run].input.installed_yr:
                ratio = 0.0
            worst[wall.run] = max(ratio, worst.get(wall.run, -math.inf))
        return sum(worst.values())

    def _coupons(self):
        for reading in self.system.coupons:
            run = self.runs[reading.run]
            grown = run.depth(reading.to_yr) - run.depth(reading.from_yr)
            rate = max(grown, 1e-9) / (reading.to_yr - reading.from_yr)
            off = [math.log(reading.rate_m_per_yr / (rate * t)) for t in self.theta]
            yield [-0.5 * (one / self.assumed.coupon_spread) ** 2 for one in off]

    def _leak(self, leak: Leak) -> tuple[list[float], float]:
        a = self.assumed
        since = leak.found_yr - a.leak_dating_years
        chosen = range(len(self.runs)) if leak.run is None else [leak.run]
        opened, fed = [0.0] * len(self.theta), 0.0
        for at in chosen:
            run = self.runs[at]
            late, early = run.depth(leak.found_yr), run.depth(since)
            fed += max(run.through(leak.found_yr) - run.through(since), 0.0)
            for j, node in enumerate(self.theta):
                shares = zip(self.factor, self.own[at][j], strict=True) if at in self.own else ()
                pairs = list(shares) or [(1.0, 1.0)]
                opened[j] += sum(
                    p * (run.leaks(late, node * f) - run.leaks(early, node * f)) for f, p in pairs
                )
        other = a.leak_dating_years * a.other_leaks_per_year
        return [other + max(one, 0.0) for one in opened], fed

    def _with_leaks(self, score, leaks, odds):
        """Weights of nodes, chance of active, and terms (share, shape, rate) of each node."""
        a, logs, terms = self.assumed, [], []
        sorts = [
            (-math.log1p(math.exp(odds)), a.quiet_shape, a.quiet_shape / a.quiet_sites),
            (-math.log1p(math.exp(-odds)), a.active_shape, a.active_shape / a.active_sites),
        ]
        for j in range(len(self.theta)):
            power = [1.0]
            for oxygen, other in leaks:
                scale = max(max(oxygen), other)
                low = [one * oxygen[j] / scale for one in power] + [0.0]
                high = [0.0] + [one * other / scale for one in power]
                power = [x + y for x, y in zip(low, high, strict=True)]
            row = []
            for log_share, shape, rate in sorts:
                for m, coefficient in enumerate(power):
                    if coefficient > 0:
                        moment = shape * math.log(rate) + math.lgamma(shape + m)
                        moment -= math.lgamma(shape) + (shape + m) * math.log(rate + self.watched)
                        row.append((log_share + math.log(coefficient) + moment, shape + m, rate))
            top = max(one for one, _, _ in row)
            total = sum(math.exp(one - top) for one, _, _ in row)
            logs.append(score[j] + top + math.log(total))
            terms.append([(math.exp(one - top) / total, n, rate) for one, n, rate in row])
        top = max(logs)
        weights = [math.exp(one - top) for one in logs]
        weights = [one / sum(weights) for one in weights]
        active = sorts[1][2]
        found = sum(
            w * sum(share for share, _, rate in row if rate == active)
            for w, row in zip(weights, terms, strict=True)
        )
        return weights, found, terms

    def result(self, horizons: tuple[float, ...]) -> Result:
        s = self.system
        probability, least = [], 0.0
        for horizon in horizons:
            least = max(least, min(max(1.0 - self._none(horizon), 0.0), 1.0))
            probability.append(least)
        hazard = max(-math.log(max(self._none(5.0), 1e-300)), 0.0)
        bands = [_quantile(self.weights, self.theta, p) for p in QUANTILES]
        losses = [self._loss(at, bands) for at in range(len(self.runs))]
        return Result(
            leak_probability=probability,
            score=-100 * math.expm1(-CONSEQUENCE_MULTIPLIER[s.consequence_class] * hazard),
            life=[_time_at(horizons, probability, p) for p in QUANTILES],
            theta=bands,
            run_loss=losses,
            run_left=[self._left(at, losses[at]) for at in range(len(self.runs))],
        )

    def _none(self, horizon: float) -> float:
        s = self.system
        now, then = s.now_yr, s.now_yr + horizon
        ahead = max(self._sites(then) - self._sites(now), 0.0)
        unread = self._unread(then, now)
        own = {r: self._read(r, then, now) for r in self.read}
        total = 0.0
        for j, weight in enumerate(self.weights):
            none = weight * math.exp(-max(unread[j], 0.0))
            for r in self.read:
                none *= sum(
                    p * math.exp(-e) for p, e in zip(self.own[r][j], own[r][j], strict=True)
                )
            none *= sum(
                share * ((rate + self.watched) / (rate + self.watched + ahead)) ** shape
                for share, shape, rate in self.terms[j]
            )
            total += none
        steel = any(run.material in IN_MODEL for run in s.runs)
        others = _outside_rate(s) + steel * self.assumed.other_leaks_per_year
        worst = {}
        for wall, spot in zip(self.walls, self.spots, strict=True):
            worst[wall.run] = max(self._through(wall, spot, then), worst.get(wall.run, 0.0))
        for chance in worst.values():
            total *= 1.0 - min(chance, 1 - 1e-12)
        return total * math.exp(-others * horizon)

    def _loss_at(self, wall) -> float:
        a, run = self.assumed, self.runs[wall.run]
        seen = max(run.wall - wall.remaining_m, 0.0)
        hidden = ROUGHNESS[wall.dressed] * a.rough_bias
        return min(seen + min(hidden / (1 - hidden) * seen, a.rough_bias_most_m), run.wall)

    def _grown(self, wall, spot, time: float) -> tuple[float, float]:
        a, run = self.assumed, self.runs[wall.run]
        error = max(a.gauge_error_m if wall.error_m is None else wall.error_m, 1e-6)
        doubt = 2 * math.hypot(error, 0.0 if run.has_baseline else a.mill_spread * run.wall)
        loss = max(self._loss_at(wall) - doubt, 0.0)
        dose, fed = run.depth(wall.at_yr), run.fed(wall.at_yr)
        per_depth = loss / dose if dose > 1e-9 else 0.0
        per_fed = loss / fed if fed > 1e-9 else 0.0
        age = max(wall.at_yr - run.input.installed_yr, 0.1)
        per_year = 0.0 if dose > 1e-9 or fed > 1e-9 else loss / age
        deeper = max(run.depth(time) - dose, 0.0) * (run.patches > 0)
        longer = max(run.fed(time) - fed, 0.0) * (run.sites > 0)
        oxygen = max(per_depth, spot[0]) * deeper + per_year * max(time - wall.at_yr, 0.0)
        return oxygen, max(oxygen, max(per_fed, self.assumed.site_rate_m_per_yr) * longer)

    def _through(self, wall, spot, time: float) -> float:
        a, run = self.assumed, self.runs[wall.run]
        if wall.at_yr < run.input.installed_yr:
            return 0.0
        left = run.wall - self._loss_at(wall) - run.least
        if left <= 0:
            return 1.0
        error = max(a.gauge_error_m if wall.error_m is None else wall.error_m, 1e-6)
        both = [
            normal_cdf((grown - left) / math.hypot(error, a.local_spread * grown))
            for grown in self._grown(wall, spot, time)
        ]
        return (1 - spot[1]) * both[0] + spot[1] * both[1]

    def _loss(self, at: int, bands: list[float]) -> list[float]:
        run = self.runs[at]
        if at in self.own:
            pairs = sorted(
                (t * f, w * p)
                for t, w, row in zip(self.theta, self.weights, self.own[at], strict=True)
                for f, p in zip(self.factor, row, strict=True)
            )
            chance, values = [p for _, p in pairs], [v for v, _ in pairs]
            bands = [_quantile(chance, values, p) for p in QUANTILES]
        depth = run.depth(self.system.now_yr)
        return [min(max(t * depth - run.zinc, 0.0), run.wall) for t in bands]

    def _left(self, at: int, loss: list[float]) -> float:
        run, now = self.runs[at], self.system.now_yr
        left = run.wall - loss[1]
        for wall, spot in zip(self.walls, self.spots, strict=True):
            if wall.run == at and wall.at_yr >= run.input.installed_yr:
                grown, _ = self._grown(wall, spot, now)
                left = min(left, max(run.wall - self._loss_at(wall) - grown, 0.0))
        return left


def _explained(system: SystemInput) -> list[Leak]:
    """Leaks on runs the oxygen model covers, or on a run not known where it covers any."""
    covered = {i for i, run in enumerate(system.runs) if run.material in IN_MODEL}
    return [k for k in system.leaks if k.run in covered or (k.run is None and covered)]


def _outside_rate(system: SystemInput) -> float:
    outside = [i for i, run in enumerate(system.runs) if run.material not in IN_MODEL]
    whole = len(outside) == len(system.runs)
    leaks = sum(k.run in outside or (k.run is None and whole) for k in system.leaks)
    return leaks / max(system.now_yr - system.installed_yr, 1.0)


def _nodes(system: SystemInput) -> list[float]:
    a = system.assumptions
    high = REACH * a.theta_spread
    low = -high
    if system.has_pools:
        low = min(low, math.log(a.drained_multiplier) - REACH_BELOW * a.drained_spread)
    return [math.exp(low + (high - low) * i / (NODES - 1)) for i in range(NODES)]


def _log_prior(system: SystemInput, theta: list[float]) -> list[float]:
    a = system.assumptions
    share = a.drained_share if system.has_pools else 0.0
    for found, count in ((1, system.found_wet), (0, system.found_clear)):
        for _ in range(count):
            holds = a.traces_if_holding if found else 1 - a.traces_if_holding
            drains = a.traces_if_drained if found else 1 - a.traces_if_drained
            share = share * drains / (share * drains + (1 - share) * holds)
    centre, density = math.log(a.drained_multiplier), []
    for node in theta:
        z, low = math.log(node) / a.theta_spread, (math.log(node) - centre) / a.drained_spread
        holding = math.exp(-0.5 * z * z) / a.theta_spread
        draining = math.exp(-0.5 * low * low) / a.drained_spread
        density.append(max((1 - share) * holding + share * draining, 1e-300))
    return [math.log(d / sum(density)) for d in density]


def _log_odds(p: float) -> float:
    return math.log(p) - math.log1p(-p)


def _quantile(weights: list[float], values: list[float], wanted: float) -> float:
    middles, total = [], 0.0
    for weight in weights:
        total += weight
        middles.append(min(max(total - 0.5 * weight, 1e-12), 1 - 1e-12))
    above = min(max(sum(m < wanted for m in middles), 1), len(middles) - 1)
    low, high = _log_odds(middles[above - 1]), _log_odds(middles[above])
    share = min(max((_log_odds(wanted) - low) / max(high - low, 1e-300), 0.0), 1.0)
    return math.exp((1 - share) * math.log(values[above - 1]) + share * math.log(values[above]))


def _time_at(horizons: tuple[float, ...], probability: list[float], wanted: float) -> float:
    hazard = [max(-math.log1p(-min(p, CERTAIN)), 1e-300) for p in probability]
    target = -math.log1p(-wanted)
    reached = sum(h < target for h in hazard)
    if reached == 0:
        return horizons[0] * min(target / hazard[0], 1.0)
    if reached == len(horizons):
        return horizons[-1]
    low, high = math.log(hazard[reached - 1]), math.log(hazard[reached])
    share = min(max((math.log(target) - low) / max(high - low, 1e-12), 0.0), 1.0)
    return math.exp(
        (1 - share) * math.log(horizons[reached - 1]) + share * math.log(horizons[reached])
    )
