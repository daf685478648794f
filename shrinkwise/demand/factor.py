"""What a demand is multiplied by when a line is no longer what it was."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

LARGEST_FACTOR = 10.0
"""Beyond any change of demand that a switch could bring."""


@dataclass(frozen=True)
class DemandFactor:
    """A factor of the demand that is not known for sure: lognormal, one draw for each path.

    Attributes
    ----------
    mean, sd : float
        Mean and standard deviation of the factor itself, not of its logarithm.
    """

    mean: float = 1.0
    sd: float = 0.0

    def draws(self, n_paths: int, rng: np.random.Generator) -> NDArray[np.float64]:
        """The factor of each path, shape (n_paths,).

        The same generator gives factors of the same rank, whatever their mean and deviation.
        """
        spread = np.sqrt(np.log1p((self.sd / self.mean) ** 2))
        normal = rng.standard_normal(n_paths)
        drawn = self.mean * np.exp(spread * normal - spread**2 / 2)
        return np.asarray(np.minimum(drawn, LARGEST_FACTOR))


NO_FACTORS: Mapping[str, DemandFactor] = MappingProxyType({})
"""The demand of every line as it is."""


def scaled(
    units: NDArray[np.int64],
    rate: NDArray[np.float64],
    factors: NDArray[np.float64],
    rng: np.random.Generator,
) -> NDArray[np.int64]:
    """Poisson draws at `rate`, made draws at `factors` times the rate with the fewest changes.

    Below 1 every unit stays with the probability of the factor; above 1 more are drawn to them.
    Both are exact: a thinned Poisson variable is Poisson, and so is the sum of two.

    Parameters
    ----------
    units : array of int, shape (n_days, n_paths)
        [units per day]
    rate : array of float, shape (n_days, n_paths)
        [units per day]
    factors : array of float, shape (n_paths,)
    rng : numpy.random.Generator

    Returns
    -------
    array of int, shape (n_days, n_paths)
        [units per day]
    """
    fewer = rng.binomial(units, np.minimum(factors, 1.0))
    return np.asarray(fewer + rng.poisson(rate * np.maximum(factors - 1.0, 0.0)))
