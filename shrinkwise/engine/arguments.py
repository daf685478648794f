"""The arguments of a simulation, checked and as the kernel takes them."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from shrinkwise.engine.policy import NO_BAKE, Days, Policy, Shelf


def check_shapes(streams: NDArray[np.int16], policy: Policy, shelf: Shelf, days: Days) -> None:
    """Refuse shapes that disagree and numbers outside their range.

    Raises
    ------
    ValueError
    """
    n_kinds, n_days, n_paths = streams.shape
    n_plans, level_days, n_levels = policy.levels.shape
    if n_kinds != (2 if shelf.fussy_until_day is None else 5):
        raise ValueError(
            "streams must hold 2 kinds of shopper, or 5 with the last day for fussy ones, "
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
    """The largest bake of each plan and day; without a limit the largest number there is.

    Raises
    ------
    ValueError
    """
    (n_plans, n_days, _), step, least = policy.levels.shape, policy.batch_step, policy.least_batch
    most = policy.most_batch
    if most is None:
        most = np.full(n_plans, np.iinfo(np.int16).max, np.int16)
    elif most.shape not in ((n_plans,), (n_plans, n_days)) or (
        np.any(most % step != 0) or np.any(most < max(least, 0))
    ):
        raise ValueError(
            f"most_batch must be {n_plans} multiples of {step} from {least} units on, "
            f"or as many for each day, but was {most!r}"
        )
    if least < 0 or least % step != 0:
        raise ValueError(f"least_batch must be a multiple of {step}, but was {least}")
    by_day = most[:, None] if most.ndim == 1 else most
    return np.ascontiguousarray(np.broadcast_to(by_day, (n_plans, n_days)), np.int16)


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


def batch_table(policy: Policy, life: int, early_count: bool) -> dict[str, NDArray[Any]]:
    """The table of batches as the kernel takes it; no rows where no plan asks for one.

    Raises
    ------
    ValueError
    """
    by_table, table = policy.by_table, policy.table
    if by_table is None or table is None:
        none, sizes = np.empty((0, 0), np.int16), np.empty(0, np.int64)
        by_table, lifted = np.zeros((0, 0), np.bool_), np.zeros((0, 0), np.int16)
        return {"by_table": by_table, "table": none, "lifted": lifted, "sizes": sizes}
    shape = policy.levels.shape[:2]
    lifted = np.zeros(shape, np.int16) if policy.lifted is None else policy.lifted
    if by_table.shape != shape or lifted.shape != shape:
        raise ValueError(
            f"by_table and lifted must have shape {shape}, but had {by_table.shape} and "
            f"{lifted.shape}"
        )
    if table.ndim != life or len(table) != 7 or early_count or table.min(initial=0) < 0:
        raise ValueError(
            "a table must hold batches of 0 or more by weekday and units of each age from 1 to "
            f"{life - 1}, counted after close, but had shape {table.shape}"
        )
    rows = np.ascontiguousarray(table.reshape(7, -1), np.int16)
    return {
        "by_table": by_table,
        "table": rows,
        "lifted": np.ascontiguousarray(lifted, np.int16),
        "sizes": np.array(table.shape[1:], np.int64),
    }


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
    if after_count.shape != streams.shape:
        raise ValueError(
            f"after_count must be of the streams' shape {streams.shape}, "
            f"but had shape {after_count.shape}"
        )
    if np.any((after_count < 0) | (after_count > streams)):
        raise ValueError("after_count must hold a part of the streams, 0 or more and no more")
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
        Units that no count of one day goes beyond.

    Raises
    ------
    ValueError
    """
    limit = np.iinfo(np.int16).max
    # what is surely not too much need not be added up day by day
    wanted = len(streams) * int(streams.max(initial=0))
    if wanted > limit:
        wanted = int(streams.sum(axis=0, dtype=np.int64).max())
    if streams.min(initial=0) < 0 or wanted > limit:
        raise ValueError(f"streams must be 0 or more and add up to at most {limit} units a day")
    if opening_by_age.min(initial=0) < 0:
        raise ValueError("opening_by_age must be 0 or more")
    # a shelf that is topped up to its largest level every day must fit
    table = 0 if policy.table is None else int(policy.table.max(initial=0))
    table += 0 if policy.lifted is None else int(policy.lifted.max(initial=0))
    level = max(int(policy.levels.max(initial=0)) + policy.batch_step, policy.least_batch, table)
    most = level * life
    most += int(opening_by_age.sum(axis=0, dtype=np.int64).max(initial=0))
    if most > limit:
        raise ValueError(
            f"a level of {policy.levels.max()} units over {life} days is more "
            f"than the {limit} units that a shelf can hold here"
        )
    return max(most, wanted)
