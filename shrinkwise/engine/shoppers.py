"""The shoppers of a day by kind: how many units are wanted oldest first and freshest first."""

import numpy as np
from numpy.typing import NDArray
from scipy.special import bdtrc, gammaln, xlog1py, xlogy

Floats = NDArray[np.float64]

RARE = 1e-30
"""Probability taken as none: it is far below rounding, and slow as a denormal number."""


def joint_law(demand: Floats, share: float) -> Floats:
    """P(A = a, B = b) of the oldest-first and the freshest-first units of a day.

    Parameters
    ----------
    demand : array of float, shape (n,)
        Probabilities of 0, 1, 2, ... units.
    share : float
        Share of the oldest-first, 0 to 1.

    Returns
    -------
    array of float, shape (n, n)
    """
    units = np.arange(len(demand))
    oldest, total = units[:, None], units[:, None] + units
    ways = gammaln(total + 1) - gammaln(oldest + 1) - gammaln(units + 1)
    split = np.exp(ways + xlogy(oldest, share) + xlog1py(units, -share))
    return _rare_out(_at(demand, total) * split)


def beyond_older(demand: Floats, share: float, older: int) -> Floats:
    """P(D = a + k, A > a): k units wanted past `a` older ones, which the oldest-first take all.

    Parameters
    ----------
    demand, share
        As in `joint_law`.
    older : int
        The largest `a`.

    Returns
    -------
    array of float, shape (older + 1, n)
        By a and k.
    """
    above, more = np.arange(older + 1)[:, None], np.arange(len(demand))
    total = above + more
    return _rare_out(_at(demand, total) * bdtrc(above, total, share))


def last_left(demand: Floats, share: float, last: int, most: int) -> Floats:
    """Units on their last day that nobody takes.

    Of the units in the order in which the oldest-first take them, the k-th stays when fewer than
    k are wanted oldest first and no more than those behind it freshest first.

    Parameters
    ----------
    demand, share
        As in `joint_law`.
    last, most : int
        Most units on their last day, and most units at all.

    Returns
    -------
    array of float, shape (last + 1, most + 1)
        By the units on their last day and all units [units].
    """
    below = joint_law(demand, share).cumsum(axis=0).cumsum(axis=1)
    longest = len(demand) - 1
    left = np.zeros((last + 1, most + 1))
    there = np.arange(most + 1)
    for unit in range(1, last + 1):
        behind = there - unit
        stays = below[min(unit - 1, longest), np.clip(behind, 0, longest)]
        left[unit] = left[unit - 1] + np.where(behind >= 0, stays, 0.0)
    return left


def _at(demand: Floats, units: NDArray[np.int64]) -> Floats:
    """Probabilities of so many units, 0 beyond the longest demand."""
    there = units < len(demand)
    return np.where(there, demand[np.where(there, units, 0)], 0.0)


def _rare_out(law: Floats) -> Floats:
    return np.where(law > RARE, law, 0.0)
