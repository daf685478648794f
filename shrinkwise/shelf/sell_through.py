"""Sell-through: what share of a batch has left the shelf, and how, by day on shelf."""

import numpy as np
import polars as pl
from numpy.typing import ArrayLike

SCHEMA = {
    "day_on_shelf": pl.Int64,
    "sold_full_pct": pl.Float64,
    "sold_reduced_pct": pl.Float64,
    "disposed_pct": pl.Float64,
}


def sell_through(
    sold_by_age: ArrayLike, disposed: float, reduce_on_day: int | None
) -> pl.DataFrame:
    """Cumulative share of the units baked that left each way, by the close of a day on shelf.

    Every unit is followed to its end, so no correction for units still on the shelf is needed.

    Parameters
    ----------
    sold_by_age : array, shape (life,)
        Units sold on each day on shelf [units].
    disposed : float
        Units disposed of on the last day [units].
    reduce_on_day : int or None
        Day on shelf from which units were reduced.

    Returns
    -------
    polars.DataFrame
        day_on_shelf, sold_full_pct, sold_reduced_pct, disposed_pct [% of units baked]; empty
        when nothing left the shelf.
    """
    sold = np.asarray(sold_by_age, np.float64)
    total = sold.sum() + disposed
    if not total > 0:
        return pl.DataFrame(schema=SCHEMA)
    day = np.arange(1, len(sold) + 1)
    reduced = day >= (reduce_on_day or len(sold) + 1)
    thrown = np.where(day == len(sold), disposed, 0.0)
    return pl.DataFrame(
        {
            "day_on_shelf": day,
            "sold_full_pct": 100 * np.cumsum(np.where(reduced, 0.0, sold)) / total,
            "sold_reduced_pct": 100 * np.cumsum(np.where(reduced, sold, 0.0)) / total,
            "disposed_pct": 100 * thrown / total,
        },
        schema=SCHEMA,
    )
