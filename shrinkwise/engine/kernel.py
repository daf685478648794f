"""The day-step loop: arrays in, arrays filled; every check stands one layer above.

Units of age a (0 = baked today) lie in slot (day - a) mod life, so that a night passes without
moving any of them.
"""

import numpy as np
from numba import njit

from shrinkwise.engine.passes import (
    add_on_hand,
    add_row,
    bake_each,
    bake_to,
    count_bakes,
    count_unmet,
    fill,
    meet,
    sell,
    sell_and_take_off,
    take_off,
)

NO_BAKE = -1


@njit(cache=True, nogil=True)
def run(  # type: ignore[no-untyped-def]
    levels,
    credit,
    step,
    need_from,
    least,
    most,
    units_per_pan,
    oldest,
    freshest,
    is_open,
    weekday,
    life,
    reduce_age,
    first_day,
    opening_by_age,
    baked,
    bakes,
    pans,
    labelled,
    sold_by_age,
    disposed,
    unmet,
    short_days,
    opening,
    closing,
):
    """Play every plan on every path; the output arrays are added to.

    Parameters
    ----------
    levels : int16 (n_plans, n_days, 1 or n_paths)
        Level that a bake works towards [units]; NO_BAKE on a day without a bake.
    credit : float64 (n_plans,)
        Share of the stock on hand that is taken off the level: 0 set batch, 1 top-up.
    need_from : int16 (n_plans,)
        Units that must be needed for a bake to take place, 1 or more [units].
    least : int16
        Smallest bake, a multiple of the step [units].
    most : int16 (n_plans,)
        Largest bake, a multiple of the step [units].
    step, units_per_pan, life, reduce_age, first_day : int
        Batch multiple [units]; units on a pan; shelf life [days]; age from which units are
        reduced (life = never); first day that is counted.
    oldest, freshest : int16 (n_days, n_paths)
    is_open : bool (n_days,)
    weekday : int64 (n_days,)
    opening_by_age : int16 (life, n_paths)
        Units on the shelf before the first bake; index = age on the first day, 0 unused.
    baked, bakes : int32 (n_plans, 7, n_paths)
    pans, labelled, unmet, short_days, opening, closing : int32 (n_plans, n_paths)
    disposed : int32 (n_plans + 1, n_paths)
    sold_by_age : int32 (n_plans + 1, life, n_paths)
        The last row gathers the days that are not counted.
    """
    n_plans, n_days, n_levels = levels.shape
    n_paths = oldest.shape[1]
    stock = np.empty((life, n_paths), np.int16)
    on_hand = np.empty(n_paths, np.int16)
    start, stop = np.empty(n_paths, np.int16), np.empty(n_paths, np.int16)
    passed, kept = np.empty(n_paths, np.int16), np.empty(n_paths, np.int16)
    for plan in range(n_plans):
        fill(stock, on_hand, opening_by_age)
        is_plain = n_levels == 1 and (credit[plan] == 0.0 or credit[plan] == 1.0)
        for day in range(n_days):
            counted = day >= first_day
            fresh_slot = day % life
            last_slot = fresh_slot + 1 if fresh_slot + 1 < life else 0
            if day == first_day:
                add_on_hand(opening, plan, on_hand)

            if levels[plan, day, 0] != NO_BAKE and is_open[day]:
                if is_plain:
                    credited = np.int16(credit[plan])
                    level = levels[plan, day, 0]
                    bake_to(
                        stock,
                        fresh_slot,
                        level,
                        on_hand,
                        credited,
                        step,
                        need_from[plan],
                        least,
                        most[plan],
                    )
                else:
                    bake_each(
                        stock,
                        fresh_slot,
                        levels,
                        plan,
                        day,
                        on_hand,
                        credit[plan],
                        step,
                        need_from[plan],
                        least,
                        most[plan],
                    )
                if counted:
                    of_week = weekday[day]
                    count_bakes(stock, fresh_slot, units_per_pan, baked, bakes, pans, plan, of_week)

            if counted and reduce_age < life and is_open[day]:
                age = reduce_age
                while age < life:
                    add_row(labelled, plan, stock, (day - age) % life)
                    # what came due on closed days is relabelled on the morning after them
                    yesterday = day - 1 - (age - reduce_age)
                    if yesterday < 0 or is_open[yesterday]:
                        break
                    age += 1

            row = plan if counted else n_plans
            if is_open[day]:
                if counted:
                    count_unmet(oldest, freshest, day, on_hand, unmet, short_days, plan)
                meet(oldest, freshest, day, on_hand, start, stop, passed, kept)
                sell_and_take_off(
                    stock,
                    last_slot,
                    start,
                    stop,
                    passed,
                    kept,
                    sold_by_age,
                    row,
                    life - 1,
                    on_hand,
                    disposed,
                )
                slot = last_slot
                for age in range(life - 2, -1, -1):
                    slot = slot + 1 if slot + 1 < life else 0
                    sell(stock, slot, start, stop, passed, kept, sold_by_age, row, age)
            else:
                take_off(stock, last_slot, on_hand, disposed, row)
        add_on_hand(closing, plan, on_hand)
