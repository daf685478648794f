"""Sell-through: what share of a batch has left the shelf, and how, by day on shelf."""

import numpy as np
import polars as pl
from numpy.typing import NDArray

from shrinkwise.demand.paths import INTERVAL

Floats = NDArray[np.float64]

WAYS = ("sold_full", "sold_reduced", "disposed")

SCHEMA = {
    "day_on_shelf": pl.Int64,
    "sold_full_pct": pl.Float64,
    "sold_reduced_pct": pl.Float64,
    "disposed_pct": pl.Float64,
    "sold_full_pct_low": pl.Float64,
    "sold_full_pct_high": pl.Float64,
    "sold_reduced_pct_low": pl.Float64,
    "sold_reduced_pct_high": pl.Float64,
    "disposed_pct_low": pl.Float64,
    "disposed_pct_high": pl.Float64,
}


def curve_table(
    share: Floats, low: Floats | None = None, high: Floats | None = None
) -> pl.DataFrame:
    """Cumulative shares as a table in percent.

    Parameters
    ----------
    share, low, high : array of float, shape (3, life)
        Left at full price, reduced and disposed of by the close of each day on shelf, 0 to 1, and
        their bounds.

    Returns
    -------
    polars.DataFrame
        As `SCHEMA` [% of units baked]; the bounds are null where they were left out.
    """
    columns: dict[str, object] = {"day_on_shelf": np.arange(1, share.shape[1] + 1)}
    for way, values in zip(WAYS, share, strict=True):
        columns[f"{way}_pct"] = 100 * values
    for index, way in enumerate(WAYS):
        for bound, values_of in (("low", low), ("high", high)):
            column = f"{way}_pct_{bound}"
            columns[column] = None if values_of is None else 100 * values_of[index]
    return pl.DataFrame(columns, schema=SCHEMA)


def played_curve(
    sold_by_age: NDArray[np.integer], disposed: NDArray[np.integer], reduce_on_day: int | None
) -> pl.DataFrame:
    """The curve of units that were played to their end, so that none is lost sight of.

    Parameters
    ----------
    sold_by_age : array of int, shape (life, n_paths)
        Units sold on each day on shelf [units].
    disposed : array of int, shape (n_paths,)
        Units disposed of on the last day [units].
    reduce_on_day : int or None
        Day on shelf from which units were reduced.

    Returns
    -------
    polars.DataFrame
        As `SCHEMA`: all paths together, between the bounds of the middle nine tenths of the
        paths; empty when nothing left the shelf.
    """
    life = len(sold_by_age)
    reduced = np.arange(1, life + 1) >= (reduce_on_day or life + 1)
    left = np.zeros((3, *sold_by_age.shape))
    left[0, ~reduced], left[1, reduced] = sold_by_age[~reduced], sold_by_age[reduced]
    left[2, -1] = disposed
    total = left.sum(axis=(0, 1))
    if not total.any():
        return pl.DataFrame(schema=SCHEMA)
    upto = np.cumsum(left, axis=1)
    of_paths = upto[:, :, total > 0] / total[total > 0]
    low, high = np.quantile(of_paths, INTERVAL, axis=-1)
    return curve_table(upto.sum(axis=-1) / total.sum(), low, high)
