"""The shoppers of the sample store by their kinds."""

from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from shrinkwise.sample.line_truth import LineTruth
from shrinkwise.sample.truth import TRUTH, StoreTruth, day_range, mean_demand

Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Shoppers:
    """Units wanted by each kind of shopper, each of shape (n_days,)."""

    oldest: Ints
    freshest: Ints
    fussy: Ints
    switching: Ints
    bargain: Ints

    def of_day(self, day: int) -> list[int]:
        """Of each kind: oldest-first, switching, freshest-first, fussy and bargain shoppers."""
        kinds = (self.oldest, self.switching, self.freshest, self.fussy, self.bargain)
        return [int(kind[day]) for kind in kinds]

    @classmethod
    def plain(cls, oldest: NDArray[np.integer], freshest: NDArray[np.integer]) -> "Shoppers":
        """Oldest-first and freshest-first shoppers alone."""
        none = np.zeros(len(oldest), np.int64)
        return cls(oldest.astype(np.int64), freshest.astype(np.int64), none, none, none)


def drawn_shoppers(
    line: LineTruth,
    demand: NDArray[np.integer],
    start: date,
    rng: np.random.Generator,
    store: StoreTruth = TRUTH,
) -> Shoppers:
    """The kinds of shoppers of a line's demand, and those who come for reduced units alone.

    Parameters
    ----------
    line : LineTruth
    demand : array of int, shape (n_days,)
        [units per day]
    start : date
    rng : numpy.random.Generator
    store : StoreTruth
    """
    kinds = line.kinds
    oldest = rng.binomial(demand, line.oldest_first_share)
    rest = demand - oldest
    if kinds.is_plain:
        return Shoppers.plain(oldest, rest)
    others = 1 - line.oldest_first_share
    fussy = rng.binomial(rest, kinds.fussy_share / others)
    switching = rng.binomial(rest - fussy, kinds.switching_share / (others - kinds.fussy_share))
    dates = day_range(start, len(demand))
    depth = np.array([line.depth(day) for day in dates])
    bargain = rng.poisson(kinds.bargain_uplift * depth * mean_demand(line, dates, store))
    return Shoppers(oldest, rest - fussy - switching, fussy, switching, bargain)
