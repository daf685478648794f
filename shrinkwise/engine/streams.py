"""Demand paths split into the shoppers of each kind."""

import numpy as np
from numpy.typing import NDArray

OLDEST, FRESHEST, FUSSY, BARGAIN = 0, 1, 2, 3


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
