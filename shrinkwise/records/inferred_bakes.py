"""What sales and disposals alone say of the bakes: by balance, since no unit outlives its life."""

from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray
from scipy.special import bdtr

from shrinkwise.profile.line import Line

Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

LEAST_OF_BATCHES = 1 / 21
"""A bake day has at least this share of the batches that are seen again: a third of its due."""

MOST_DOUBT = 0.05
"""A weekday is no bake day only where chance shows so few batches of one less often than this."""


@dataclass(frozen=True)
class StockBounds:
    """Units left at close, before the night's disposal: between what, shape (n_days,).

    Attributes
    ----------
    least : array of int
        Units that left later and were too old to have been baked after this day [units].
    most : array of int
        Every unit that left within the shelf life of this day's bake [units]; -1 for the last
        days of the records, whose stock has not been seen to its end.
    """

    least: Ints
    most: Ints


def stock_bounds(
    sold: Ints,
    sold_reduced: Ints,
    disposed_early: Ints,
    disposed_last_day: Ints,
    life: int,
    reduce_on_day: int | None,
) -> StockBounds:
    """Bounds on the stock at each close, and so on the units baked up to then.

    A unit disposed of on its last day was baked a shelf life before, and was on the shelf at
    every close in between. A unit sold reduced was at least `reduce_on_day` days on the shelf,
    so that it was there at the closes of the days before. And whatever is there at a close has
    left when this day's own bake has reached the end of its life. Units baked up to a day are
    the units that left up to it and those at its close; the bounds hold for both.

    Parameters
    ----------
    sold, sold_reduced, disposed_early, disposed_last_day : array of int, shape (n_days,)
        [units]
    life : int
        Shelf life [days].
    reduce_on_day : int or None
        Day on shelf from which units are reduced.
    """
    n_days = len(sold)
    first = np.arange(n_days)
    end = np.minimum(first + life, n_days)
    thrown = _between(disposed_last_day, first, end)
    least = thrown.copy()
    if reduce_on_day is not None:
        until = np.minimum(first + min(reduce_on_day, life), n_days)
        least += _between(np.maximum(sold_reduced, 0), np.minimum(first + 1, n_days), until)
    later = _between(sold + disposed_early, np.minimum(first + 1, n_days), end)
    most = np.maximum(thrown + later, least)
    return StockBounds(least, np.where(first + life <= n_days, most, -1))


def inferred_bakes(
    sold: Ints, disposed_early: Ints, disposed_last_day: Ints, life: int, could_bake: Bools
) -> Ints:
    """The least bakes that balance: each unit that left, baked on the last bake day before it.

    A unit disposed of on its last day was baked a shelf life before. A history shorter than a
    shelf life has seen the end of no batch.

    Parameters
    ----------
    sold, disposed_early, disposed_last_day : array of int, shape (n_days,)
        [units]
    life : int
        Shelf life [days].
    could_bake : array of bool, shape (n_days,)
        Bake days; a unit that none of them can have given was baked on the day it left.
    """
    days = np.arange(len(sold))
    last_bake = np.maximum.accumulate(np.where(could_bake, days, -life))
    baked_on = np.where(days - last_bake < life, last_bake, days)
    baked = np.zeros_like(sold)
    np.add.at(baked, baked_on, np.maximum(sold + disposed_early, 0))
    thrown = disposed_last_day[life - 1 :]
    baked[: len(thrown)] += thrown
    return baked


def bake_weekdays(bake_seen: Bools, is_open: Bools, weekday: Ints) -> tuple[int, ...]:
    """Weekdays on which the line is baked, told from the batches that are seen again.

    Of n batches seen again, those of a bake day are binomial with its share. A weekday with so
    few of them that this is hard to believe is none; a few wrong dates are then no matter. While
    there are too few batches to tell, a weekday counts as a bake day: a plan is then compared
    with a habit that bakes too often rather than too seldom.

    Parameters
    ----------
    bake_seen : array of bool, shape (n_days,)
        A unit baked that day was disposed of or labelled later.
    is_open : array of bool, shape (n_days,)
    weekday : array of int, shape (n_days,)
        Monday 0.
    """
    seen = np.bincount(weekday[bake_seen], minlength=7)
    likely = bdtr(seen, int(seen.sum()), LEAST_OF_BATCHES) > MOST_DOUBT
    return tuple(int(day) for day in np.unique(weekday[is_open]) if likely[day])


def seen_bakes(
    disposed_last_day: pl.DataFrame | None,
    disposed_early: pl.DataFrame | None,
    markdowns: pl.DataFrame | None,
    line: Line,
) -> pl.DataFrame | None:
    """Bake dates of the units that were disposed of or labelled: date, units.

    Where the log has no bake date, units on their last day were baked a shelf life before, and
    labelled ones as long before as the line is reduced; of others nothing is known.

    Parameters
    ----------
    disposed_last_day, disposed_early, markdowns : polars.DataFrame or None
        Rows of the line.
    line : Line
    """
    reduce_age = None if line.reduce_on_day is None else line.reduce_on_day - 1
    ages = (
        (disposed_last_day, line.shelf_life_days - 1),
        (disposed_early, None),
        (markdowns, reduce_age),
    )
    parts = []
    for rows, age in ages:
        if rows is not None:
            by_age = (
                pl.lit(None, pl.Date) if age is None else pl.col("date") - pl.duration(days=age)
            )
            bake_date = pl.coalesce("bake_date", by_age)
            parts.append(rows.select(date=bake_date, units="units").drop_nulls())
    return pl.concat(parts) if parts else None


def _between(units: Ints, first: Ints, end: Ints) -> Ints:
    """Units from day `first` to the day before `end`."""
    total = np.concatenate([[0], np.cumsum(units)])
    return total[np.maximum(end, first)] - total[first]
