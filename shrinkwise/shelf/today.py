"""The shelf on a day that is under way: what was taken so far, and what is left for tomorrow."""

import numpy as np
from numpy.typing import NDArray

from shrinkwise.records.today import Today

Ints = NDArray[np.int64]


def left_for_tomorrow(
    morning: NDArray[np.int16],
    today: Today,
    shares: NDArray[np.float64],
    rng: np.random.Generator,
    late: NDArray[np.integer] | None = None,
) -> NDArray[np.int16]:
    """Units by age tomorrow morning, without those whose last day it is today.

    Parameters
    ----------
    morning : array of int16, shape (life, n)
        On the shelf this morning by age, before the bake [units].
    today : Today
        What happened until the count. Where the shelf was counted, what is missing and what is
        there beyond the logs is of the freshest units, as it is for a count at night.
    shares : array of float, shape (n,)
        Oldest-first shares.
    rng : numpy.random.Generator
    late : array of int, shape (n,), optional
        Units still wanted today after the count; none when left out.

    Returns
    -------
    array of int16, shape (life, n)
    """
    units = morning.astype(np.int64)
    units[0] = today.baked
    none = np.zeros(len(shares), np.int64)
    units = taken(units, none + today.disposed, none)
    oldest = rng.binomial(today.sold, shares)
    units = taken(units, oldest, today.sold - oldest)
    if today.counted is not None:
        beyond = today.counted - units.sum(axis=0)
        units = taken(units, none, np.maximum(-beyond, 0))
        units[0] += np.maximum(beyond, 0)
    if late is not None:
        oldest = rng.binomial(late, shares)
        units = taken(units, oldest, late - oldest)
    tomorrow = np.zeros_like(units)
    tomorrow[1:] = units[:-1]
    return tomorrow.astype(np.int16)


def taken(units: Ints, oldest: NDArray[np.integer], freshest: NDArray[np.integer]) -> Ints:
    """What is left of a shelf when so many units were taken from the old and the fresh end.

    Parameters
    ----------
    units : array of int, shape (life, n)
        By age, youngest first [units].
    oldest, freshest : array of int, shape (n,)
        Where there are too few, nothing is left [units].
    """
    upto = np.cumsum(units[::-1], axis=0)
    total = upto[-1]
    first = np.minimum(oldest, total)
    stop = total - np.minimum(freshest, total - first)
    kept = np.clip(upto, first, stop)
    return np.diff(kept, axis=0, prepend=first[None])[::-1]
