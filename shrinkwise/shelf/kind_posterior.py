"""Draws of the kinds of a line's shoppers from their posterior."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shrinkwise.shelf.kind_likelihood import Guess, KindLikelihood
from shrinkwise.shelf.share import GRID, SharePosterior

Floats = NDArray[np.float64]

STEPS = 1500
SCALE = 1.0
"""Of the steps, to their covariance in the chain so far."""

MOST_UPLIFT, USUAL_UPLIFT = 3.0, 0.6
"""Largest uplift, and the mean of its exponential prior: where reduced units always sell out,
nothing but what is usual speaks against ever more shoppers (common practice, no source)."""
OLDEST, FUSSY, SWITCHING, UPLIFT = range(4)
RANGE = np.array([1.0, 1.0, 1.0, MOST_UPLIFT])
FIRST_STEPS = np.array([0.02, 0.06, 0.04, 0.1])
DAYS_AS_ONE = 2.0
"""Days that count as one. With every day by itself the 90% intervals of 16 generated stores held
the truth too seldom, of bargain shoppers in about half; 2 was set on these, and tried on 84 others
(`tests/bench/kind_recovery.py`). What is wrong in the split of the stock by age stays wrong until
the batch is gone, which may be why; that has not been shown."""

ANYWHERE = 0.2
"""How often another limit day is tried, and how often one kind anywhere in its range: what the
logs leave wide open is not walked through in small steps."""


@dataclass(frozen=True)
class KindDraws:
    """Draws from the posterior.

    Attributes
    ----------
    values : array of float, shape (n, 4)
        Oldest-first, fussy and switching shares of the ordinary shoppers; bargain shoppers as a
        multiple of these.
    until_day : array of int, shape (n,)
        Last day on shelf on which fussy shoppers take a unit.
    factor : array of float, shape (n, 7)
        Demand of ordinary shoppers over the fitted one by weekday.
    weights : array of float, shape (n,)
        Probability of each draw.
    """

    values: Floats
    until_day: NDArray[np.int64]
    factor: Floats
    weights: Floats

    def mean(self, kind: int) -> float:
        """Expected value."""
        return float(self.weights @ self.values[:, kind])

    def sd(self, kind: int) -> float:
        """Standard deviation."""
        return float(np.sqrt(self.weights @ (self.values[:, kind] - self.mean(kind)) ** 2))

    def quantile(self, kind: int, at: float) -> float:
        """Value below which the truth lies with probability `at`."""
        order = np.argsort(self.values[:, kind])
        upto = np.cumsum(self.weights[order])
        return float(np.interp(at, upto, self.values[order, kind]))

    def limit_day(self) -> int:
        """The likeliest."""
        return int(np.bincount(self.until_day, self.weights).argmax())

    def guesses(self, n: int) -> list[Guess]:
        """Some of the draws, evenly over the walk, the first and the last among them.

        Parameters
        ----------
        n : int
            How many, 2 or more.

        Returns
        -------
        list of Guess
        """
        some = np.linspace(0, len(self.values) - 1, n).astype(int)
        return [_guess(self.values[one], int(self.until_day[one])) for one in some]

    def held_to(self, kind: int, mean: float, sd: float) -> "KindDraws":
        """The same with a normal prior on one kind.

        Parameters
        ----------
        kind : int
            Column of `values`.
        mean, sd : float
            Of the prior, in the unit of that column; `sd` above 0.

        Returns
        -------
        KindDraws
            Of other weights, which add up to 1.
        """
        off = (self.values[:, kind] - mean) / sd
        log_prior = np.where(self.weights > 0, -0.5 * off**2, -np.inf)
        # of the nearest draw, so that a prior far from all of them holds them too
        weights = self.weights * np.exp(log_prior - log_prior.max())
        return replace(self, weights=weights / weights.sum())

    def share(self, stock_of: SharePosterior) -> SharePosterior:
        """The oldest-first share by itself, each draw at the nearest share of the grid."""
        cell = np.searchsorted((GRID[1:] + GRID[:-1]) / 2, self.values[:, OLDEST])
        weights = np.bincount(cell, self.weights, len(GRID)).astype(np.float64)
        return SharePosterior(weights, stock_of.stock)


def kind_draws(
    likelihood: KindLikelihood,
    share: SharePosterior,
    start: Guess,
    free: tuple[bool, bool, bool],
    limits: range,
    seed: int,
    steps: int = STEPS,
) -> KindDraws:
    """Draw kinds by a random walk (adaptive Metropolis; H. Haario, E. Saksman, J. Tamminen,
    Bernoulli 7(2), 2001, doi 10.2307/3318737; the steps are settled after the warm-up).

    Every share of fussy and switching shoppers that leaves room for the others is as likely
    before the logs are seen, so is every limit day; small uplifts are likelier than large ones.

    Parameters
    ----------
    likelihood : KindLikelihood
    share : SharePosterior
        What the disposals say of the oldest-first share.
    start : Guess
    free : tuple of 3 bool
        Fussy, switching, uplift; the others are held at none.
    limits : range
        Limit days of fussy shoppers that are possible.
    seed : int
    steps : int
        Draws; a third as many are made before them, to settle the size of the steps.
    """
    rng = np.random.default_rng(seed)
    moving = np.array([True, *free])
    log_share = np.log(np.maximum(share.weights, 1e-12))

    def weighed(at: Floats, until: int) -> tuple[float, Floats]:
        if at.min() < 0 or at[:3].sum() > 1 or at[UPLIFT] > MOST_UPLIFT:
            return -np.inf, np.ones(7)
        found, factor = likelihood.of(_guess(at, until))
        prior = float(np.interp(at[OLDEST], GRID, log_share)) - at[UPLIFT] / USUAL_UPLIFT
        return found / DAYS_AS_ONE + prior, factor

    at = np.where(moving, [start.oldest, start.fussy, start.switching, start.uplift], 0.0)
    until, warm_up = start.until_day, steps // 3
    n = warm_up + steps
    now, factor = weighed(at, until)
    values, limit, factors = np.empty((n, 4)), np.empty(n, np.int64), np.empty((n, 7))
    step = np.diag(FIRST_STEPS)
    for k in range(n):
        if 0 < k <= warm_up and k % 60 == 0:
            covariance = np.cov(values[k // 3 : k].T) + np.diag(1e-3 * FIRST_STEPS) ** 2
            step = SCALE * np.linalg.cholesky(covariance)
        wish = at + np.where(moving, step @ rng.normal(size=4), 0.0)
        if rng.random() < ANYWHERE:
            kind = int(rng.choice(np.flatnonzero(moving)))
            wish = at.copy()
            wish[kind] = rng.uniform(0, RANGE[kind])
        wish_until = until
        if free[0] and rng.random() < ANYWHERE:
            wish_until = int(rng.choice(np.array(limits)))
        then, then_factor = weighed(wish, wish_until)
        if np.log(rng.random()) < then - now:
            at, until, now, factor = wish, wish_until, then, then_factor
        values[k], limit[k], factors[k] = at, until, factor
    kept = slice(warm_up, None)
    return KindDraws(values[kept], limit[kept], factors[kept], np.full(steps, 1 / steps))


def _guess(at: Floats, until_day: int) -> Guess:
    oldest, fussy, switching, uplift = (float(x) for x in at)
    return Guess(oldest, fussy, switching, uplift, until_day)
