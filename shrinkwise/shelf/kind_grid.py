"""Posterior of a kind's share on a grid, with the level of each weekday as it comes."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.special import logsumexp

Floats = NDArray[np.float64]

LEVELS = np.linspace(-0.6, 0.6, 41)
"""Logs of what the fitted demand of a weekday is multiplied by."""

LEVEL_SPREAD = 0.2
"""Prior standard deviation of these: the fit has taken what the kinds do for the weekday's."""

RATE_STEP = 0.07


@dataclass(frozen=True)
class GridPosterior:
    """Probabilities of the values of a grid.

    Attributes
    ----------
    values : array of float, shape (n_values, n_parts)
        Of each cell, such as share and uplift.
    log_likelihood : array of float, shape (n_values,)
    log_prior : array of float, shape (n_values,)
    factor : array of float, shape (n_values, 7)
        Demand of all ordinary shoppers over the fitted one by weekday, in each cell.
    """

    values: Floats
    log_likelihood: Floats
    log_prior: Floats
    factor: Floats

    @cached_property
    def weights(self) -> Floats:
        """Probability of each cell, shape (n_values,)."""
        log_density = self.log_likelihood + self.log_prior
        density = np.exp(log_density - log_density.max())
        return np.asarray(density / density.sum(), np.float64)

    def mean(self, part: int) -> float:
        """Expected value of a part."""
        return float(self.weights @ self.values[:, part])

    def sd(self, part: int) -> float:
        """Standard deviation of a part."""
        return float(np.sqrt(self.weights @ (self.values[:, part] - self.mean(part)) ** 2))

    def interval(self, part: int, low: float = 0.05, high: float = 0.95) -> tuple[float, float]:
        """Values of a part between which the truth lies with probability `high` - `low`."""
        places, cell = np.unique(self.values[:, part], return_inverse=True)
        if len(places) == 1:
            return float(places[0]), float(places[0])
        weights = np.bincount(cell, self.weights)
        middles = (places[1:] + places[:-1]) / 2
        edges = np.concatenate([places[:1], middles, places[-1:]])
        upto = np.append(0.0, np.cumsum(weights))
        found = np.interp([low, high], upto, edges)
        return float(found[0]), float(found[1])

    def where(self, kept: NDArray[np.bool_]) -> "GridPosterior":
        """The posterior, were it one of some cells; `kept` has shape (n_values,)."""
        return GridPosterior(
            self.values[kept], self.log_likelihood[kept], self.log_prior[kept], self.factor[kept]
        )

    def best(self, kept: NDArray[np.bool_] | None = None) -> float:
        """Largest log likelihood, perhaps among some cells."""
        return float((self.log_likelihood if kept is None else self.log_likelihood[kept]).max())

    def picked(self, n: int, rng: np.random.Generator) -> NDArray[np.int64]:
        """Cells drawn by their probability, shape (n,)."""
        return rng.choice(len(self.weights), n, p=self.weights)


def rate_grid(expected: Floats) -> Floats:
    """Rates of a day's shoppers that cover the expected ones and their spread [units per day]."""
    low, high = np.log(0.2 * expected.min()), np.log(4 * expected.max())
    step = min(RATE_STEP, 0.5 / np.sqrt(expected.max()))
    return np.exp(np.linspace(low, high, int(np.ceil((high - low) / step)) + 1))


def weekday_fits(
    odds: Floats, expected: Floats, weekday: NDArray[np.integer], rates: Floats, alpha: float
) -> Floats:
    """Log likelihood of the days of each weekday under each level of its demand.

    The rate of a day is Gamma distributed round its mean, so that sales are negative binomial.

    Parameters
    ----------
    odds : array of float, shape (n_days, n_values, n_rates)
        Chance of each day's sales.
    expected : array of float, shape (n_days,)
        [units per day]
    weekday : array of int, shape (n_days,)
    rates : array of float, shape (n_rates,)
    alpha : float

    Returns
    -------
    array of float, shape (7, n_values, n_levels)
    """
    size = 1 / alpha
    mean = expected[:, None, None] * np.exp(LEVELS)[:, None]
    # of the log of the rate, whose grid is even
    log_mix = size * (np.log(rates) - np.log(mean) - rates / mean)
    mix = np.exp(log_mix - logsumexp(log_mix, axis=2, keepdims=True))
    chance = np.matmul(odds, mix.transpose(0, 2, 1))
    logs = np.log(np.maximum(chance, 1e-12))
    found = np.zeros((7, odds.shape[1], len(LEVELS)))
    np.add.at(found, weekday, logs)
    return found


def over_levels(fits: Floats, log_prior: Floats, values: Floats) -> GridPosterior:
    """The posterior of the values, the levels of the weekdays integrated out.

    Parameters
    ----------
    fits : array of float, shape (7, n_values, n_levels)
    log_prior : array of float, shape (n_values,)
    values : array of float, shape (n_values, n_parts)
    """
    prior = -0.5 * (LEVELS / LEVEL_SPREAD) ** 2
    total = logsumexp(fits + prior, axis=2)
    odds = np.exp(fits + prior - total[:, :, None])
    factor = (odds @ np.exp(LEVELS)).T
    return GridPosterior(values, total.sum(axis=0), log_prior, factor)
