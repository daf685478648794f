"""Demand paths split into the shoppers of each kind."""

import numpy as np
from numpy.typing import NDArray

OLDEST, FRESHEST, FUSSY, BARGAIN, SWITCHING = range(5)

MOST_BARGAINS = 2_000
"""Bargain shoppers of a day are cut here, so that a day's shoppers stay within int16 [units]."""


def split_demand(
    demand: NDArray[np.integer], oldest_first_share: NDArray[np.floating], seed: int
) -> NDArray[np.int16]:
    """Thin each day's demand into oldest-first and freshest-first shoppers.

    Parameters
    ----------
    demand : array of int, shape (n_days, n_paths)
        Units wanted [units].
    oldest_first_share : array of float, shape (n_paths,)
        Share of shoppers who take the oldest units, 0 to 1; one per path, so that its
        uncertainty travels with the path.
    seed : int
        The same seed gives the same split.

    Returns
    -------
    array of int16, shape (2, n_days, n_paths)
        Oldest-first and freshest-first units; they add up to `demand`.

    Raises
    ------
    ValueError
        When the demand is negative or beyond int16, or a share lies outside 0 to 1.
    """
    if demand.size and (demand.min() < 0 or demand.max() > np.iinfo(np.int16).max):
        raise ValueError(
            f"demand must be 0 to {np.iinfo(np.int16).max} units a day, "
            f"but was {demand.min()} to {demand.max()}"
        )
    if np.any((oldest_first_share < 0) | (oldest_first_share > 1)):
        raise ValueError("oldest_first_share must be 0 to 1")
    rng = np.random.default_rng(seed)
    oldest = rng.binomial(demand, np.broadcast_to(oldest_first_share, demand.shape))
    return np.stack([oldest, demand - oldest]).astype(np.int16)


def with_more_kinds(
    streams: NDArray[np.int16],
    fussy: NDArray[np.floating],
    switching: NDArray[np.floating],
    bargain_mean: NDArray[np.floating],
    seed: int,
) -> NDArray[np.int16]:
    """Thin the freshest-first shoppers into those, fussy and switching ones; add bargain shoppers.

    Parameters
    ----------
    streams : array of int16, shape (2, n_days, n_paths)
        Oldest-first and freshest-first shoppers [units].
    fussy, switching : array of float, shape (n_paths,)
        Share of the freshest-first shoppers of each path who are of that kind; together at most 1.
    bargain_mean : array of float, shape (n_days, n_paths)
        Mean of the shoppers who come for reduced units alone, a Poisson variable [units per day].
    seed : int
        The same seed gives the same split.

    Returns
    -------
    array of int16, shape (5, n_days, n_paths)
        The ordinary shoppers, all but those for a bargain, add up to what `streams` does.

    Raises
    ------
    ValueError
        When a share lies outside 0 to 1, or the two shares add up to more.
    """
    if np.any(fussy < 0) or np.any(switching < 0) or np.any(fussy + switching > 1 + 1e-9):
        raise ValueError("the shares of fussy and switching shoppers must be 0 to 1 in all")
    rng = np.random.default_rng(seed)
    oldest, rest = streams
    picky = rng.binomial(rest, np.broadcast_to(np.minimum(fussy, 1.0), rest.shape))
    others = rest - picky
    share = np.minimum(switching / np.maximum(1 - fussy, 1e-9), 1.0)
    moved = rng.binomial(others, np.broadcast_to(share, rest.shape))
    bargain = np.minimum(rng.poisson(bargain_mean), MOST_BARGAINS)
    return np.stack([oldest, others - moved, picky, bargain, moved]).astype(np.int16)


def with_fussy(streams: NDArray[np.int16], share: float, seed: int) -> NDArray[np.int16]:
    """Make a share of the ordinary shoppers fussy, whatever share of them is already.

    Every shopper has a number of his own between 0 and 1, and is fussy where it lies below the
    share: with the same seed a larger share adds fussy ones and takes none away. Who takes the
    freshest unit, then who switches, becomes fussy before those who take the oldest, since these
    do not mind its age.

    Parameters
    ----------
    streams : array of int16, shape (2 or 5, n_days, n_paths)
        Shoppers of each kind [units].
    share : float
        Of the ordinary shoppers, 0 to 1; on paths with as many fussy ones already none is added.
    seed : int

    Returns
    -------
    array of int16, shape (5, n_days, n_paths)
        The ordinary shoppers add up to what those of `streams` do.

    Raises
    ------
    ValueError
        When the share lies outside 0 to 1.
    """
    if not 0 <= share <= 1:
        raise ValueError(f"the share of fussy shoppers must be 0 to 1, but was {share}")
    kinds = np.zeros((5, *streams.shape[1:]), np.int16)
    kinds[: len(streams)] = streams
    others = kinds[[OLDEST, FRESHEST, SWITCHING]].sum(axis=0, dtype=np.int64)
    known = kinds[FUSSY].sum(axis=0, dtype=np.int64)
    told = known / np.maximum(known + others.sum(axis=0), 1)
    more = _thinned(others, np.maximum(share - told, 0) / np.maximum(1 - told, 1e-9), seed)
    for kind in (FRESHEST, SWITCHING, OLDEST):
        moved = np.minimum(more, kinds[kind]).astype(np.int16)
        kinds[kind] -= moved
        kinds[FUSSY] += moved
        more -= moved
    return kinds


def _thinned(units: NDArray[np.int64], share: NDArray[np.float64], seed: int) -> NDArray[np.int64]:
    """Binomial draws of every day, no fewer with a larger share of the path."""
    rng = np.random.default_rng(seed)
    found = np.zeros_like(units)
    # day by day, since every unit has its own number
    for day, of_paths in enumerate(units):
        ends = np.cumsum(of_paths)
        below = rng.random(int(of_paths.sum()), dtype=np.float32) < np.repeat(share, of_paths)
        upto = np.concatenate([[0], np.cumsum(below)])
        found[day] = upto[ends] - upto[ends - of_paths]
    return found
