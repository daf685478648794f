"""Plans played on demand paths: what is baked, sold, reduced and disposed of."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shrinkwise.engine import kernel
from shrinkwise.engine.arguments import (
    batch_table,
    check_shapes,
    check_sizes,
    early_shoppers,
    expected_sales,
    largest_batches,
    least_needs,
)
from shrinkwise.engine.policy import Days, Policy, Shelf
from shrinkwise.engine.tables import Plans, Tally, World

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
    batches : array of int16, shape (n_plans or 0, n_days, n_paths)
        Units baked on every day that was played; no plans where it was not asked for.
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
    batches: NDArray[np.int16]
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
    *,
    after_count: NDArray[np.int16] | None = None,
    by_day: bool = False,
) -> Flows:
    """Play every plan on every demand path, in the order of a shop's day.

    Bake before opening, shoppers come, units on their last day are disposed of after close,
    the rest are a day older. Oldest-first shoppers take from the old end of the shelf and
    freshest-first shoppers from the young end; within a day their order cannot matter, since
    the two ends only meet when everything is sold. Switching shoppers take the oldest of the
    reduced units that oldest-first shoppers leave and, where there are none, the freshest unit.
    After them come fussy shoppers, who take the freshest of the units that are young enough, and
    then bargain shoppers, who take the oldest of the reduced units and are not missed where there
    are none.

    A batch is decided on the evening before it is baked, from the stock after the night's
    disposals, or already on that day from the shelf as it was counted, when part of the
    shoppers were still to come.

    Parameters
    ----------
    streams : array of int16, shape (2 or 5, n_days, n_paths)
        Units wanted by oldest-first and by freshest-first, and perhaps by fussy, bargain and
        switching shoppers.
    policy, shelf, days
        What is baked, how long it lasts, which days are played.
    opening_by_age : array of int, shape (life, n_paths), optional
        Units on the shelf before the first bake by their age on the first day; age 0 must be
        empty. An empty shelf when left out.
    after_count : array of int16, shape as `streams`, optional
        The part of the streams that comes after the shelf was counted and the next day's batch
        decided; none when left out.
    by_day : bool
        Whether the batch of every day is wanted.

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
    if opening_by_age is None:
        opening_by_age = np.zeros((life, n_paths), np.int16)
    elif opening_by_age.shape != (life, n_paths) or opening_by_age[0].any():
        raise ValueError(
            f"opening_by_age must have shape {(life, n_paths)} and nothing of age 0, "
            f"but had shape {opening_by_age.shape}"
        )
    most_units = check_sizes(streams, policy, life, opening_by_age)
    plans = Plans(
        levels=np.ascontiguousarray(policy.levels, np.int16),
        credit=np.ascontiguousarray(policy.credit, np.float64),
        step=policy.batch_step,
        units_per_pan=policy.units_per_pan,
        need_from=least_needs(policy),
        least=np.int16(policy.least_batch),
        most=largest_batches(policy),
        taken=expected_sales(policy, life),
        count_all=policy.count_all,
        **batch_table(policy, life, after_count is not None),
    )
    early = early_shoppers(streams, after_count)
    world = World(
        shoppers=np.ascontiguousarray(streams if after_count is None else after_count, np.int16),
        early=early,
        is_open=np.ascontiguousarray(days.is_open, np.bool_),
        weekday=np.ascontiguousarray(days.weekday, np.int64),
        life=life,
        reduce_age=life if shelf.reduce_on_day is None else min(shelf.reduce_on_day - 1, life),
        fussy_age=life if shelf.fussy_until_day is None else min(shelf.fussy_until_day, life),
        first_day=days.first_day,
        opening_by_age=np.ascontiguousarray(opening_by_age, np.int16),
        whole=max(1, np.iinfo(np.int16).max // max(1, most_units)),
    )
    tally = _empty_tally(len(policy.levels), life, streams.shape[1], n_paths, by_day)
    kernel.run(plans, world, tally)
    flows = Flows(
        baked=tally.baked,
        bakes=tally.bakes,
        pans=tally.totals[:, kernel.PANS],
        labelled=tally.totals[:, kernel.LABELLED],
        sold_by_age=tally.sold_by_age,
        disposed=tally.totals[:, kernel.DISPOSED],
        unmet=tally.totals[:, kernel.UNMET],
        short_days=tally.totals[:, kernel.SHORT],
        opening=tally.opening,
        closing=tally.closing,
        batches=tally.batches,
        reduce_age=world.reduce_age,
    )
    if flows.imbalance().any():
        raise AssertionError("units appeared or vanished in the simulation")
    return flows


def _empty_tally(n_plans: int, life: int, n_days: int, n_paths: int, by_day: bool) -> Tally:
    def zeros(*shape: int) -> Int32:
        return np.zeros((n_plans, *shape, n_paths), np.int32)

    return Tally(
        baked=zeros(7),
        bakes=zeros(7),
        sold_by_age=zeros(life),
        totals=zeros(kernel.TOTALS),
        opening=zeros(),
        closing=zeros(),
        batches=np.zeros((n_plans if by_day else 0, n_days, n_paths), np.int16),
    )
