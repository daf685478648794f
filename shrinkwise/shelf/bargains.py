"""Bargain shoppers and those who switch to reduced units, from days with reduced units."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.stats import binom, nbinom

from shrinkwise.engine.kind_odds import bargain_odds
from shrinkwise.shelf.kind_days import KindDays
from shrinkwise.shelf.kind_grid import (
    LEVELS,
    GridPosterior,
    over_levels,
    rate_grid,
    weekday_fits,
)

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

FEWEST_DAYS = 20
"""Days with reduced units on the shelf, and days without, below which nothing is told."""

COARSE, FINE = 9, 13
MOST_UPLIFT = 1.6
FAR = 8.0
"""Log likelihood below the best at which a cell is out of the question."""


@dataclass(frozen=True)
class BargainDays:
    """Days with reduced units on the shelf, and the others, which tell the demand without them.

    Attributes
    ----------
    days : KindDays
    expected : array of float, shape (n_days,)
        Demand of ordinary shoppers, those put off by old units taken out [units per day].
    """

    days: KindDays
    expected: Floats

    @property
    def with_reduced(self) -> Bools:
        """Usable days with reduced units on the shelf in the morning."""
        days = self.days
        agrees = days.sold_reduced <= days.reduced_there
        return days.usable & (days.reduced_there > 0) & agrees

    @property
    def without(self) -> Bools:
        """Usable days without."""
        return self.days.usable & (self.days.reduced_there == 0)

    @property
    def enough(self) -> bool:
        """There are as many of either as are needed."""
        return min(int(self.with_reduced.sum()), int(self.without.sum())) >= FEWEST_DAYS

    def suspicion(self, oldest: float, oldest_sd: float) -> float:
        """How surely more is sold with reduced units on the shelf, or more of it reduced, than
        oldest-first shoppers account for [standard errors].

        Parameters
        ----------
        oldest, oldest_sd : float
            Oldest-first share and its standard deviation, were there no other kinds.
        """
        return max(self._more_sold(), self._more_reduced(oldest, oldest_sd))

    def _more_sold(self) -> float:
        days, kept = self.days, self.days.usable & ~self._sold_out
        mean = self.expected[kept]
        weight = 1 / (mean + days.alpha * mean**2)
        there = days.reduced_there[kept] > 0
        of_day = [mean * (days.weekday[kept] == day) for day in range(7)]
        columns = np.column_stack([mean * there, *of_day])
        gram = (columns * weight[:, None]).T @ columns
        inverse = np.linalg.inv(gram + np.diag(np.full(8, 1e-6)))
        slope = inverse @ (columns.T @ (weight * (days.sold[kept] - mean)))
        return float(slope[0] / np.sqrt(inverse[0, 0]))

    def _more_reduced(self, oldest: float, oldest_sd: float) -> float:
        days, kept = self.days, self.with_reduced
        sold, there = days.sold[kept], days.reduced_there[kept]

        def expected(share: float) -> Floats:
            """Units of the reduced that so many oldest-first shoppers take, by day."""
            units = np.arange(int(there.max()))
            more = binom.sf(units, sold[:, None], min(max(share, 1e-3), 1 - 1e-3))
            return np.asarray((more * (units < there[:, None])).sum(axis=1), np.float64)

        mean = expected(oldest)
        slope = (expected(oldest + 0.01).sum() - mean.sum()) / 0.01
        spread = np.sqrt(oldest * (1 - oldest) * sold.sum() + (slope * oldest_sd) ** 2)
        return float((days.sold_reduced[kept].sum() - mean.sum()) / max(spread, 1e-6))

    def posterior(self) -> GridPosterior:
        """Of the share of ordinary shoppers who take reduced units first, and of the bargain
        shoppers as a multiple of the ordinary demand."""
        whole = self._on(np.linspace(0.02, 0.98, COARSE), np.linspace(0, MOST_UPLIFT, COARSE))
        near = whole.values[whole.log_likelihood > whole.log_likelihood.max() - FAR]
        (low, least), (high, most) = near.min(axis=0), near.max(axis=0)
        share_step, uplift_step = 0.96 / (COARSE - 1), MOST_UPLIFT / (COARSE - 1)
        return self._on(
            np.linspace(max(low - share_step, 0.02), min(high + share_step, 0.98), FINE),
            np.linspace(max(least - uplift_step, 0.0), most + uplift_step, FINE),
        )

    def _on(self, shares: Floats, uplifts: Floats) -> GridPosterior:
        days, kept = self.days, self.with_reduced
        level = self._weekday_level()
        expected = self.expected * level[days.weekday]
        rates = rate_grid(expected[days.usable])
        reduced = days.sold_reduced[kept]
        odds = bargain_odds(
            days.sold[kept] - reduced,
            reduced,
            np.maximum(days.there - days.reduced_there, 0)[kept],
            days.reduced_there[kept],
            rates,
            shares,
            expected[kept, None] * uplifts,
        )
        odds = odds.reshape(len(odds), -1, len(rates))
        fits = weekday_fits(odds, expected[kept], days.weekday[kept], rates, days.alpha)
        fits += self._without_fits(expected)[:, None, :]
        values = np.stack(np.meshgrid(shares, uplifts, indexing="ij"), axis=-1).reshape(-1, 2)
        found = over_levels(fits, np.zeros(len(values)), values)
        return GridPosterior(
            found.values, found.log_likelihood, found.log_prior, found.factor * level
        )

    def _weekday_level(self) -> Floats:
        """Sales of days without reduced units over what was expected, drawn to 1 where few."""
        days, kept = self.days, self.without
        weight = 1 / (self.expected[kept] + days.alpha * self.expected[kept] ** 2)
        counted = np.maximum(days.sold[kept], np.where(self._sold_out[kept], self.expected[kept], 0))
        n = np.bincount(days.weekday[kept], weight * self.expected[kept] ** 2, 7)
        found = np.bincount(days.weekday[kept], weight * self.expected[kept] * counted, 7)
        prior = 25.0
        return np.asarray((found + prior) / (n + prior), np.float64)

    @property
    def _sold_out(self) -> Bools:
        return np.asarray(self.days.sold >= self.days.there)

    def _without_fits(self, expected: Floats) -> Floats:
        """Log likelihood of the days without reduced units, shape (7, n_levels)."""
        days, kept = self.days, self.without
        mean = expected[kept, None] * np.exp(LEVELS)
        sold, size = days.sold[kept, None], 1 / days.alpha
        chance = size / (size + mean)
        exact = nbinom.logpmf(sold, size, chance)
        out = self._sold_out[kept, None]
        tail = nbinom.logsf(sold - 1, size, chance)
        found = np.zeros((7, len(LEVELS)))
        np.add.at(found, days.weekday[kept], np.where(out, tail, exact))
        return found
