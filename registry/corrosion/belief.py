"""What is believed of systems once their evidence is counted: theta, run factors, sites, spots.

Theta multiplies every depth of attack in a system: water chemistry, deposits, all that the oxygen
ledger does not know. Wall readings, coupons, dated leaks, findings inside the pipe and watched
years without leaks reweight a fixed grid of nodes; what the grid holds before is in `prior`, the
sites of attack without oxygen are in `mixture`, known thin spots in `spots`.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields, replace
from typing import Any, TypeVar

import numpy as np

from registry.corrosion.mixture import Gammas
from registry.corrosion.spots import Spots
from registry.corrosion.timeline import Index
from registry.corrosion.types import Array

Table = TypeVar("Table")


@dataclass(frozen=True)
class Belief:
    """weights: of theta (systems, nodes); own: of the factors of runs that were read (read runs,
    nodes, factors); sites: shares of quiet and active where nothing leaked (systems, 2); active:
    chance of active with leaks counted, watched: exposure of sites while watched, each (systems,);
    leaky: systems with leaks; terms: shares of each term of what leaks say (leaky systems, nodes,
    2, powers). thinner: chance of a reading as thin as each before it was taken, thicker: as thick,
    each (readings,); wall_system, read_system: whose readings and runs.
    """

    weights: Array
    own: Array
    gammas: Gammas
    sites: Array
    active: Array
    watched: Array
    leaky: Index
    terms: Array
    spots: Spots
    thinner: Array
    thicker: Array
    wall_system: Index
    read_system: Index

    @property
    def size(self) -> int:
        return int(self.weights.shape[0])

    def site_survival(self, ahead: Array) -> Array:
        """ln of the chance that no site goes through, (systems,); for systems without leaks.

        Parameters: ahead (systems,), exposure of sites from now on.
        """
        rate = self.gammas.rate + self.watched[:, None]
        gone = -np.expm1(-self.gammas.shape * np.log1p(ahead[:, None] / rate))
        result: Array = np.log1p(-(self.sites * gone).sum(axis=1))
        return result

    def leaky_survival(self, ahead: Array) -> Array:
        """The same for systems with leaks at each node of theta, (leaky systems, nodes)."""
        rate = self.gammas.rate[self.leaky] + self.watched[self.leaky][:, None]
        shape = self.gammas.shape[self.leaky][:, :, None] + np.arange(self.terms.shape[3])
        power = shape * np.log1p(ahead[self.leaky][:, None] / rate)[:, :, None]
        gone = -(self.terms * np.expm1(-power)[:, None]).sum(axis=(2, 3))
        result: Array = np.log1p(-np.minimum(gone, 1.0 - 1e-15))
        return result

    def part(self, begin: int, end: int) -> "Belief":
        """Of systems `begin` to `end` alone."""
        reads = slice(*np.searchsorted(self.read_system, [begin, end]).tolist())
        walls = slice(*np.searchsorted(self.wall_system, [begin, end]).tolist())
        leaks = slice(*np.searchsorted(self.leaky, [begin, end]).tolist())
        every = slice(begin, end)
        return Belief(
            weights=self.weights[every],
            own=self.own[reads],
            gammas=_each(self.gammas, lambda column: column[every]),
            sites=self.sites[every],
            active=self.active[every],
            watched=self.watched[every],
            leaky=self.leaky[leaks] - begin,
            terms=self.terms[leaks],
            spots=_each(self.spots, lambda column: column[walls]),
            thinner=self.thinner[walls],
            thicker=self.thicker[walls],
            wall_system=self.wall_system[walls] - begin,
            read_system=self.read_system[reads] - begin,
        )

    def with_weights(self, weights: Array) -> "Belief":
        return replace(self, weights=weights)


def _each(table: Table, change: Callable[[Array], Array]) -> Table:
    columns = (change(getattr(table, item.name)) for item in fields(table))  # type: ignore[arg-type]
    return type(table)(*columns)


def joined_beliefs(parts: Sequence[Belief]) -> Belief:
    """One belief about all their systems, in order."""
    if len(parts) == 1:
        return parts[0]
    base = np.concatenate(([0], np.cumsum([part.size for part in parts])))[:-1]
    most = max(part.terms.shape[3] for part in parts)

    def every(name: str) -> Array:
        return np.concatenate([getattr(part, name) for part in parts])

    def moved(name: str) -> Index:
        both = zip(parts, base, strict=True)
        return np.concatenate([getattr(part, name) + begin for part, begin in both])

    def tables(name: str) -> Any:
        found = [getattr(part, name) for part in parts]
        columns = ([getattr(one, item.name) for one in found] for item in fields(found[0]))
        return type(found[0])(*(np.concatenate(column) for column in columns))

    padded = [
        part.terms
        if part.terms.shape[3] == most
        else np.pad(part.terms, ((0, 0), (0, 0), (0, 0), (0, most - part.terms.shape[3])))
        for part in parts
    ]
    return Belief(
        weights=every("weights"),
        own=every("own"),
        gammas=tables("gammas"),
        sites=every("sites"),
        active=every("active"),
        watched=every("watched"),
        leaky=moved("leaky"),
        terms=np.concatenate(padded),
        spots=tables("spots"),
        thinner=every("thinner"),
        thicker=every("thicker"),
        wall_system=moved("wall_system"),
        read_system=moved("read_system"),
    )
