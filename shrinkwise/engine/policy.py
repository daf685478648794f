"""What is baked when, how long it lasts, and which days are played."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

NO_BAKE = -1
"""Level of a day without a bake."""


@dataclass(frozen=True)
class Policy:
    """How much is baked on each day, for many plans at once.

    Attributes
    ----------
    levels : array of int16, shape (n_plans, n_days, 1) or (n_plans, n_days, n_paths)
        Units that a bake works towards [units]; NO_BAKE on a day without a bake.
    credit : array of float, shape (n_plans,)
        Share of the units on hand that is taken off the level: 1 is a top-up target, 0 is a
        set batch.
    batch_step : int
        Batches are rounded up to a multiple of this [units].
    units_per_pan : int
    least_batch : int
        Units of the smallest bake: where less is needed, but something, this much is baked; a
        multiple of the step [units].
    need_from : array of int16, shape (n_plans,), optional
        Units that must be needed for a bake to take place; 1 when left out [units].
    most_batch : array of int16, shape (n_plans,) or (n_plans, n_days), optional
        Units of the largest bake of each plan, or of each of its days, from the least batch up,
        multiples of the step [units].
    taken : array of int16, shape (n_plans, n_days, life), optional
        For top-ups that know the stock by age: units expected to be sold, oldest first, from the
        count until the close of day 1, 2, ... from the bake day on; negative from the first
        night on whose losses the next bake makes up for [units]. What is expected to go out of
        date before it does not count as on hand.
    count_all : bool
        Where the shelf is counted before close: whether the units on their last day are counted
        with the others, although they will not be there tomorrow.
    by_table : array of bool, shape (n_plans, n_days), optional
        Days whose batches stand in `table`; a level there only tells that it is a day to bake on.
    table : array of int16, shape (7, *units of age 1, 2, ... on the shelf)
        Batch of each weekday for every shelf, decided at night; where more units of an age are
        on the shelf than the table goes up to, its last batch [units].
    lifted : array of int16, shape (n_plans, n_days), optional
        By how much more, or less, is baked than the table says, where it says to bake; within the
        plan's largest batch and none [units].
    """

    levels: NDArray[np.int16]
    credit: NDArray[np.floating]
    batch_step: int = 1
    units_per_pan: int = 1
    least_batch: int = 0
    need_from: NDArray[np.int16] | None = None
    most_batch: NDArray[np.int16] | None = None
    taken: NDArray[np.int16] | None = None
    count_all: bool = False
    by_table: NDArray[np.bool_] | None = None
    table: NDArray[np.int16] | None = None
    lifted: NDArray[np.int16] | None = None


@dataclass(frozen=True)
class Shelf:
    """How long units last.

    Attributes
    ----------
    life_days : int
        Days on sale, bake day included [days].
    reduce_on_day : int or None
        Day on shelf from which units are reduced; None: never.
    fussy_until_day : int or None
        Last day on shelf on which fussy shoppers still take a unit; None without such shoppers.
    """

    life_days: int
    reduce_on_day: int | None = None
    fussy_until_day: int | None = None


@dataclass(frozen=True)
class Days:
    """The days that are played.

    Attributes
    ----------
    weekday : array of int, shape (n_days,)
        Monday 0 to Sunday 6.
    is_open : array of bool, shape (n_days,)
    first_day : int
        Index of the first day that is counted; the days before it fill the shelf.
    """

    weekday: NDArray[np.integer]
    is_open: NDArray[np.bool_]
    first_day: int = 0


def largest_level(life_days: int, batch_step: int) -> int:
    """The largest level [units] at which a shelf that starts empty cannot outgrow int16."""
    return int(np.iinfo(np.int16).max) // life_days - batch_step


def can_be_played(policy: Policy, life_days: int) -> bool:
    """Whether a shelf of another life holds the levels of a policy without outgrowing int16.

    Parameters
    ----------
    policy : Policy
    life_days : int
    """
    return int(policy.levels.max(initial=0)) <= largest_level(life_days, policy.batch_step)
