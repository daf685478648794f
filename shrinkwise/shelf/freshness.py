"""Freshness: how many days a unit has left when it is bought."""

from dataclasses import dataclass
from typing import Self

import numpy as np
from numpy.typing import ArrayLike, NDArray


@dataclass(frozen=True)
class Freshness:
    """Days left at purchase: shelf life less day on shelf, so 0 on the last day on sale.

    Attributes
    ----------
    share : array of float, shape (life,)
        Share of the units sold with 0, 1, ... life - 1 days left; nan where none was sold.
    """

    share: NDArray[np.float64]

    @classmethod
    def of(cls, sold_by_age: ArrayLike) -> Self:
        """The freshness of units sold.

        Parameters
        ----------
        sold_by_age : array, shape (life, ...)
            Units sold by age, the day on shelf less 1; all others are added up [units].
        """
        sold = np.asarray(sold_by_age, np.float64)
        sold = sold.reshape(len(sold), -1).sum(axis=1)
        total = sold.sum()
        return cls(sold[::-1] / total if total > 0 else np.full(len(sold), np.nan))

    @property
    def mean(self) -> float:
        """Mean days left at purchase [days]; nan where nothing was sold."""
        return float(np.arange(len(self.share)) @ self.share)
