"""Plans played on demand paths: what is baked, sold, reduced and disposed of."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shrinkwise.engine import kernel
from shrinkwise.engine.policy import (
    Days,
    Policy,
    Shelf,
    check_shapes,
    check_sizes,
    largest_batches,
    least_needs,
)
from shrinkwise.engine.streams import FRESHEST, OLDEST

Int32 = NDArray[np.int32]


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
    check_shapes(streams, policy, shelf, days)
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
    most_batch = largest_batches(policy)
    check_sizes(streams, policy, life, opening_by_age)
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
        least_needs(policy),
        np.int16(policy.least_batch),
        most_batch,
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
