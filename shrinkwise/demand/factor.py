"""What a demand is multiplied by when a line is no longer what it was."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Self
from zlib import crc32

import numpy as np
from numpy.typing import NDArray

LARGEST_FACTOR = 10.0
"""Beyond any change of demand that a switch could bring."""

_OF_ALL_LINES = crc32(b"what the demand factors of all lines share")


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

    def draws(self, n_paths: int, rng: np.random.Generator, seed: int) -> NDArray[np.float64]:
        """The factor of each path, shape (n_paths,).

        The same generator and seed give factors of the same rank, whatever their mean and
        deviation.

        Parameters
        ----------
        n_paths : int
        rng : numpy.random.Generator
            Of the line.
        seed : int
            The same for every line: of what the factors of several lines share.
        """
        spread = np.sqrt(np.log1p((self.sd / self.mean) ** 2))
        normal = rng.standard_normal(n_paths)
        drawn = self.mean * np.exp(spread * normal - spread**2 / 2)
        return np.asarray(np.minimum(drawn, LARGEST_FACTOR))


UNCHANGED = DemandFactor()
"""The demand as it is."""


@dataclass(frozen=True)
class Elasticity:
    """How strongly a line's demand answers its price: change of the log of its mean per log of
    the price. Normal, and shared with other lines as far as they were learned together.

    Attributes
    ----------
    mean : float
    loadings : tuple of float
        What each of several standard normal values, which all lines share, adds to it.
    from_logs_pct : float
        By how much the records cut the variance that was assumed at first [%].
    rests_on : str
        The line's own logs, other lines, or an assumption.
    price_changes, promotion_days : int
        Lasting changes of its price, and days at a lower one, in the records.
    """

    mean: float
    loadings: tuple[float, ...]
    from_logs_pct: float = 0.0
    rests_on: str = ""
    price_changes: int = 0
    promotion_days: int = 0

    @property
    def sd(self) -> float:
        """Its standard deviation."""
        return float(np.linalg.norm(self.loadings))


@dataclass(frozen=True)
class PriceFactor(DemandFactor):
    """What another price does to a demand: (new price / old price) to the power of the elasticity,
    of which there is one draw for each path, whatever the price.

    Attributes
    ----------
    elasticity : Elasticity
    price_ratio : float
        New price over old price.
    """

    elasticity: Elasticity = Elasticity(0.0, ())
    price_ratio: float = 1.0

    @classmethod
    def of(cls, elasticity: Elasticity, price_ratio: float) -> Self:
        """The factor of a price; lognormal, since the elasticity is normal."""
        log_ratio = float(np.log(price_ratio))
        spread = elasticity.sd * abs(log_ratio)
        mean = float(np.exp(elasticity.mean * log_ratio + spread**2 / 2))
        return cls(mean, mean * float(np.sqrt(np.expm1(spread**2))), elasticity, price_ratio)

    def draws(self, n_paths: int, rng: np.random.Generator, seed: int) -> NDArray[np.float64]:
        """The factor of each path, shape (n_paths,); lines that were learned together are wrong
        together."""
        shared = np.random.default_rng([seed, _OF_ALL_LINES])
        normal = shared.standard_normal((len(self.elasticity.loadings), n_paths))
        drawn = self.elasticity.mean + np.array(self.elasticity.loadings) @ normal
        return np.asarray(np.minimum(self.price_ratio**drawn, LARGEST_FACTOR))


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
