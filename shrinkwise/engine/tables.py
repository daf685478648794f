"""What the kernel is given and what it fills: arrays under their names, not checked here."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Int16 = NDArray[np.int16]
Int32 = NDArray[np.int32]


class Plans(NamedTuple):
    """What is baked.

    Parameters
    ----------
    levels : int16 (n_plans, n_days, 1 or n_paths)
        Level that a bake works towards [units]; NO_BAKE on a day without a bake.
    credit : float64 (n_plans,)
        Share of the units counted that is taken off the level: 0 set batch, 1 top-up.
    step, units_per_pan : int
        Batch multiple; units on a pan [units].
    need_from : int16 (n_plans,)
        Units that must be needed for a bake to take place, 1 or more [units].
    least : int16
        Smallest bake, a multiple of the step [units].
    most : int16 (n_plans, n_days)
        Largest bake, a multiple of the step [units].
    taken : int16 (n_plans or 0, n_days, life)
        Units expected to be sold, oldest first, from the count until the close of day 1, 2, ...
        from the bake day on; negative from the first night that the next bake makes up for.
        What is expected to go out of date before it is added to the level.
    count_all : bool
        A count before close holds the units on their last day, too.
    by_table : bool (n_plans, n_days)
        Days whose batch is taken from the table.
    table : int16 (7 or 0, n_shelves)
        Batch of each weekday for every shelf, the youngest age in the slowest place [units].
    lifted : int16 (n_plans, n_days)
        Added to a batch of the table that is not none [units].
    sizes : int64 (life - 1,)
        Numbers of units of each age that the table tells apart, youngest first; more count as
        the most.
    """

    levels: Int16
    credit: NDArray[np.float64]
    step: int
    units_per_pan: int
    need_from: Int16
    least: np.int16
    most: Int16
    taken: Int16
    count_all: bool
    by_table: NDArray[np.bool_]
    table: Int16
    lifted: Int16
    sizes: NDArray[np.int64]


class World(NamedTuple):
    """What the plans meet.

    Parameters
    ----------
    shoppers : int16 (2 or 5, n_days, n_paths)
        Oldest-first, freshest-first, and perhaps fussy, bargain and switching shoppers [units].
    early : int16 (2 or 5, n_days or 0, n_paths)
        Those who come before the shelf is counted, if that is not at night; `shoppers` are then
        those who come after it.
    is_open : bool (n_days,)
    weekday : int64 (n_days,)
    life, reduce_age, fussy_age, first_day : int
        Shelf life [days]; age from which units are reduced (life = never); age from which fussy
        shoppers take none; first day that is counted.
    opening_by_age : int16 (life, n_paths)
        Units on the shelf before the first bake; index = age on the first day, 0 unused.
    whole : int
        Days over which no count of units can outgrow int16.
    """

    shoppers: Int16
    early: Int16
    is_open: NDArray[np.bool_]
    weekday: NDArray[np.int64]
    life: int
    reduce_age: int
    fussy_age: int
    first_day: int
    opening_by_age: Int16
    whole: int


class Tally(NamedTuple):
    """What is added up over the days that are counted.

    Parameters
    ----------
    baked, bakes : int32 (n_plans, 7, n_paths)
    sold_by_age : int32 (n_plans, life, n_paths)
    totals : int32 (n_plans, TOTALS, n_paths)
        Disposed, unmet, days short, pans, labelled.
    opening, closing : int32 (n_plans, n_paths)
        On the shelf at the start and at the end.
    batches : int16 (n_plans or 0, n_days, n_paths)
        Batch of each day, where wanted [units].
    """

    baked: Int32
    bakes: Int32
    sold_by_age: Int32
    totals: Int32
    opening: Int32
    closing: Int32
    batches: Int16
