"""Plans played on demand paths: what is baked, sold, reduced and disposed of."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shrinkwise.engine import kernel
from shrinkwise.engine.streams import FRESHEST, OLDEST

NO_BAKE = kernel.NO_BAKE
Int32 = NDArray[np.int32]


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
    """

    levels: NDArray[np.int16]
    credit: NDArray[np.floating]
    batch_step: int = 1
    units_per_pan: int = 1


@dataclass(frozen=True)
class Shelf:
    """Shelf life [days] and the day on shelf from which units are reduced (None: never)."""

    life_days: int
    reduce_on_day: int | None = None


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


@dataclass(frozen=True)
class Flows:
    """Units and events over the counted days, per plan and path.

    Attributes
    ----------
    baked, bakes : array of int32, shape (n_plans, 7, n_paths)
        Units and bakes by weekday.
    pans, labelled, disposed, unmet, short_days, opening, closing : (n_plans, n_paths)
        Pans used; units relabelled at the reduced price; units disposed of on their last day;
        units wanted and not there; days on which a shopper went without; units on the shelf at
        the start and at the end.
    sold_by_age : array of int32, shape (n_plans, life, n_paths)
        Units sold by age (day on shelf less 1).
    reduce_age : int
        Age from which units carried the reduced price.
    """

    baked: Int32
    bakes: Int32
    pans: Int32
    labelled: Int32
    sold_by_age: Int32
    disposed: Int32
    unmet: Int32
    short_days: Int32
    opening: Int32
    closing: Int32
    reduce_age: int

    @property
    def sold_full(self) -> Int32:
        """Units sold at the full price, shape (n_plans, n_paths)."""
        return self.sold_by_age[:, : self.reduce_age].sum(axis=1, dtype=np.int32)

    @property
    def sold_reduced(self) -> Int32:
        """Units sold at the reduced price, shape (n_plans, n_paths)."""
        return self.sold_by_age[:, self.reduce_age :].sum(axis=1, dtype=np.int32)

    def imbalance(self) -> Int32:
        """Opening + baked - sold - disposed - closing per plan and path; zero when all is well."""
        sold = self.sold_by_age.sum(axis=1, dtype=np.int32)
        baked = self.baked.sum(axis=1, dtype=np.int32)
        return self.opening + baked - sold - self.disposed - self.closing


def largest_level(life_days: int, batch_step: int) -> int:
    """The largest level [units] at which a shelf that starts empty cannot outgrow int16."""
    return int(np.iinfo(np.int16).max) // life_days - batch_step


def simulate(
    streams: NDArray[np.int16],
    policy: Policy,
    shelf: Shelf,
    days: Days,
    opening_by_age: NDArray[np.integer] | None = None,
) -> Flows:
    """Play every plan on every demand path, in the order of a shop's day.

    Bake before opening, shoppers come, units on their last day are disposed of after close,
    the rest are a day older. Oldest-first shoppers take from the old end of the shelf and
    freshest-first shoppers from the young end; within a day their order cannot matter, since
    the two ends only meet when everything is sold.

    Parameters
    ----------
    streams : array of int16, shape (2, n_days, n_paths)
        Units wanted by oldest-first and by freshest-first shoppers.
    policy, shelf, days
        What is baked, how long it lasts, which days are played.
    opening_by_age : array of int, shape (life, n_paths), optional
        Units on the shelf before the first bake by their age on the first day; age 0 must be
        empty. An empty shelf when left out.

    Returns
    -------
    Flows

    Raises
    ------
    ValueError
        When shapes disagree or a number lies outside its range.
    AssertionError
        When units appear or vanish, which would be a fault of the kernel.
    """
    _check(streams, policy, shelf, days)
    n_paths = streams.shape[2]
    life = shelf.life_days
    n_plans = len(policy.levels)
    if opening_by_age is None:
        opening_by_age = np.zeros((life, n_paths), np.int16)
    elif opening_by_age.shape != (life, n_paths) or opening_by_age[0].any():
        raise ValueError(
            f"opening_by_age must have shape {(life, n_paths)} and nothing of age 0, "
            f"but had shape {opening_by_age.shape}"
        )
    _check_sizes(streams, policy, life, opening_by_age)
    reduce_age = life if shelf.reduce_on_day is None else min(shelf.reduce_on_day - 1, life)

    def zeros(*shape: int) -> Int32:
        return np.zeros(shape, np.int32)

    # a row more than there are plans takes the days that are not counted
    sold_by_age, disposed = zeros(n_plans + 1, life, n_paths), zeros(n_plans + 1, n_paths)
    flows = Flows(
        baked=zeros(n_plans, 7, n_paths),
        bakes=zeros(n_plans, 7, n_paths),
        pans=zeros(n_plans, n_paths),
        labelled=zeros(n_plans, n_paths),
        sold_by_age=sold_by_age[:n_plans],
        disposed=disposed[:n_plans],
        unmet=zeros(n_plans, n_paths),
        short_days=zeros(n_plans, n_paths),
        opening=zeros(n_plans, n_paths),
        closing=zeros(n_plans, n_paths),
        reduce_age=reduce_age,
    )
    kernel.run(
        np.ascontiguousarray(policy.levels, np.int16),
        np.ascontiguousarray(policy.credit, np.float64),
        policy.batch_step,
        policy.units_per_pan,
        np.ascontiguousarray(streams[OLDEST], np.int16),
        np.ascontiguousarray(streams[FRESHEST], np.int16),
        np.ascontiguousarray(days.is_open, np.bool_),
        np.ascontiguousarray(days.weekday, np.int64),
        life,
        reduce_age,
        days.first_day,
        np.ascontiguousarray(opening_by_age, np.int16),
        flows.baked,
        flows.bakes,
        flows.pans,
        flows.labelled,
        sold_by_age,
        disposed,
        flows.unmet,
        flows.short_days,
        flows.opening,
        flows.closing,
    )
    if flows.imbalance().any():
        raise AssertionError("units appeared or vanished in the simulation")
    return flows


def _check(streams: NDArray[np.int16], policy: Policy, shelf: Shelf, days: Days) -> None:
    n_kinds, n_days, n_paths = streams.shape
    n_plans, level_days, n_levels = policy.levels.shape
    if n_kinds != 2:
        raise ValueError(f"streams must hold 2 kinds of shopper, but held {n_kinds}")
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


def _check_sizes(
    streams: NDArray[np.int16],
    policy: Policy,
    life: int,
    opening_by_age: NDArray[np.integer],
) -> None:
    """The kernel counts in int16: neither a day's shoppers nor a shelf may overflow it."""
    limit = np.iinfo(np.int16).max
    wanted = streams.sum(axis=0, dtype=np.int64)
    if streams.min(initial=0) < 0 or wanted.max(initial=0) > limit:
        raise ValueError(f"streams must be 0 or more and add up to at most {limit} units a day")
    if opening_by_age.min(initial=0) < 0:
        raise ValueError("opening_by_age must be 0 or more")
    # a shelf that is topped up to its largest level every day must fit
    most = (int(policy.levels.max(initial=0)) + policy.batch_step) * life
    most += int(opening_by_age.sum(axis=0, dtype=np.int64).max(initial=0))
    if most > limit:
        raise ValueError(
            f"a level of {policy.levels.max()} units over {life} days is more "
            f"than the {limit} units that a shelf can hold here"
        )
