"""What is baked when, how long it lasts, and which days are played; with their checks."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shrinkwise.engine.kernel import NO_BAKE


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
    most_batch : array of int16, shape (n_plans,), optional
        Units of the largest bake, from the least batch up, multiples of the step [units].
    taken : array of int16, shape (n_plans, n_days, life), optional
        For top-ups that know the stock by age: units expected to be sold, oldest first, from the
        count until the close of day 1, 2, ... from the bake day on; negative from the first
        night on whose losses the next bake makes up for [units]. What is expected to go out of
        date before it does not count as on hand.
    count_all : bool
        Where the shelf is counted before close: whether the units on their last day are counted
        with the others, although they will not be there tomorrow.
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


def check_shapes(streams: NDArray[np.int16], policy: Policy, shelf: Shelf, days: Days) -> None:
    """Refuse shapes that disagree and numbers outside their range.

    Raises
    ------
    ValueError
    """
    n_kinds, n_days, n_paths = streams.shape
    n_plans, level_days, n_levels = policy.levels.shape
    if n_kinds != (2 if shelf.fussy_until_day is None else 4):
        raise ValueError(
            "streams must hold 2 kinds of shopper, or 4 with the last day for fussy ones, "
            f"but held {n_kinds}"
        )
    if shelf.fussy_until_day is not None and shelf.fussy_until_day < 1:
        raise ValueError(f"fussy_until_day must be 1 or more, but was {shelf.fussy_until_day}")
    if level_days != n_days or n_levels not in (1, n_paths):
        raise ValueError(
            f"levels must have shape (n_plans, {n_days}, 1 or {n_paths}), "
            f"but had {policy.levels.shape}"
        )
    if policy.credit.shape != (n_plans,) or np.any((policy.credit < 0) | (policy.credit > 1)):
        raise ValueError(f"credit must be {n_plans} shares from 0 to 1, but was {policy.credit!r}")
    if days.weekday.shape != (n_days,) or days.is_open.shape != (n_days,):
        raise ValueError(f"weekday and is_open must have shape ({n_days},)")
    if np.any((days.weekday < 0) | (days.weekday > 6)):
        raise ValueError("weekday must be 0 (Monday) to 6 (Sunday)")
    if not 0 <= days.first_day < n_days:
        raise ValueError(f"first_day must be 0 to {n_days - 1}, but was {days.first_day}")
    if shelf.life_days < 1 or policy.batch_step < 1 or policy.units_per_pan < 1:
        raise ValueError("life_days, batch_step and units_per_pan must be 1 or more")
    if shelf.reduce_on_day is not None and shelf.reduce_on_day < 1:
        raise ValueError(f"reduce_on_day must be 1 or more, but was {shelf.reduce_on_day}")
    no_bake = policy.levels == NO_BAKE
    if np.any(policy.levels < NO_BAKE) or np.any(no_bake != no_bake[:, :, :1]):
        raise ValueError("a level must be 0 or more, or NO_BAKE on all paths of a plan's day")


def largest_batches(policy: Policy) -> NDArray[np.int16]:
    """The largest bake of each plan; without a limit the largest number there is."""
    n_plans, step, least = len(policy.levels), policy.batch_step, policy.least_batch
    if policy.most_batch is None:
        most = np.full(n_plans, np.iinfo(np.int16).max, np.int16)
    else:
        most = np.ascontiguousarray(policy.most_batch, np.int16)
        if most.shape != (n_plans,) or np.any(most % step != 0) or np.any(most < max(least, 0)):
            raise ValueError(
                f"most_batch must be {n_plans} multiples of {step} from {least} units on, "
                f"but was {policy.most_batch!r}"
            )
    if least < 0 or least % step != 0:
        raise ValueError(f"least_batch must be a multiple of {step}, but was {least}")
    return most


def least_needs(policy: Policy) -> NDArray[np.int16]:
    """Units that must be needed for a bake of each plan.

    Raises
    ------
    ValueError
    """
    n_plans = len(policy.levels)
    if policy.need_from is None:
        return np.ones(n_plans, np.int16)
    if policy.need_from.shape != (n_plans,) or np.any(policy.need_from < 1):
        raise ValueError(
            f"need_from must be {n_plans} units from 1 on, but was {policy.need_from!r}"
        )
    return np.ascontiguousarray(policy.need_from, np.int16)


def expected_sales(policy: Policy, life: int) -> NDArray[np.int16]:
    """What is expected to be sold of the older units, by plan; no rows where no plan asks.

    Raises
    ------
    ValueError
    """
    n_plans, n_days, n_levels = policy.levels.shape
    if policy.taken is None:
        return np.empty((0, n_days, life), np.int16)
    if policy.taken.shape != (n_plans, n_days, life):
        raise ValueError(
            f"taken must have shape {(n_plans, n_days, life)}, but had {policy.taken.shape}"
        )
    by_age = (policy.taken[:, :, 0] >= 0).any(axis=1)
    if n_levels > 1 or np.any(policy.credit[by_age] != 1.0) or (policy.count_all and by_age.any()):
        raise ValueError(
            "a plan that knows the stock by age must be a top-up with one level for all paths "
            "that leaves out the units on their last day"
        )
    return np.ascontiguousarray(policy.taken, np.int16)


def early_shoppers(
    streams: NDArray[np.int16], after_count: NDArray[np.int16] | None
) -> NDArray[np.int16]:
    """Those who come before the shelf is counted; no days where it is counted after close.

    Raises
    ------
    ValueError
    """
    if after_count is None:
        return np.empty((len(streams), 0, streams.shape[2]), np.int16)
    if after_count.shape != streams.shape or np.any((after_count < 0) | (after_count > streams)):
        raise ValueError(
            f"after_count must hold a part of the streams, shape {streams.shape}, "
            f"but had shape {after_count.shape}"
        )
    return np.ascontiguousarray(streams - after_count, np.int16)


def check_sizes(
    streams: NDArray[np.int16],
    policy: Policy,
    life: int,
    opening_by_age: NDArray[np.integer],
) -> int:
    """The kernel counts in int16: neither a day's shoppers nor a shelf may overflow it.

    Returns
    -------
    int
        The most units of which any could be counted on one day.

    Raises
    ------
    ValueError
    """
    limit = np.iinfo(np.int16).max
    wanted = streams.sum(axis=0, dtype=np.int64)
    if streams.min(initial=0) < 0 or wanted.max(initial=0) > limit:
        raise ValueError(f"streams must be 0 or more and add up to at most {limit} units a day")
    if opening_by_age.min(initial=0) < 0:
        raise ValueError("opening_by_age must be 0 or more")
    # a shelf that is topped up to its largest level every day must fit
    most = max(int(policy.levels.max(initial=0)) + policy.batch_step, policy.least_batch) * life
    most += int(opening_by_age.sum(axis=0, dtype=np.int64).max(initial=0))
    if most > limit:
        raise ValueError(
            f"a level of {policy.levels.max()} units over {life} days is more "
            f"than the {limit} units that a shelf can hold here"
        )
    return max(most, int(wanted.max(initial=0)))
