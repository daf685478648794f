"""The day-step loops: arrays in, arrays filled; every check stands one layer above.

Paths are the innermost index of every loop, so that each loop is one pass over contiguous
numbers. Units of age a (0 = baked today) lie in slot (day - a) mod life, so that a night
passes without moving any of them.
"""

import numpy as np
from numba import njit

NO_BAKE = -1


@njit(cache=True, nogil=True)
def run(  # type: ignore[no-untyped-def]
    levels,
    credit,
    step,
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
    step, units_per_pan, life, reduce_age, first_day : int
        Batch multiple [units]; units on a pan; shelf life [days]; age from which units are
        reduced (life = never); first day that is counted.
    oldest, freshest : int16 (n_days, n_paths)
    is_open : bool (n_days,)
    weekday : int64 (n_days,)
    opening_by_age : int16 (life, n_paths)
        Units on the shelf before the first bake; index = age on the first day, 0 unused.
    baked, bakes : int32 (n_plans, 7, n_paths)
    pans, labelled, disposed, unmet, short_days, opening, closing : int32 (n_plans, n_paths)
    sold_by_age : int32 (n_plans, life, n_paths)
    """
    n_plans, n_days, n_levels = levels.shape
    n_paths = oldest.shape[1]
    stock = np.empty((life, n_paths), np.int16)
    on_hand = np.empty(n_paths, np.int16)
    level = np.empty(n_paths, np.int16)
    wanted = np.empty(n_paths, np.int16)
    for plan in range(n_plans):
        share = credit[plan]
        for age in range(life):
            for p in range(n_paths):
                stock[(life - age) % life, p] = opening_by_age[age, p]
        for day in range(n_days):
            counted = day >= first_day
            fresh_slot = day % life
            for p in range(n_paths):
                on_hand[p] = 0
            for slot in range(life):
                for p in range(n_paths):
                    on_hand[p] += stock[slot, p]
            if day == first_day:
                for p in range(n_paths):
                    opening[plan, p] += on_hand[p]

            if levels[plan, day, 0] != NO_BAKE and is_open[day]:
                if n_levels == 1:
                    for p in range(n_paths):
                        level[p] = levels[plan, day, 0]
                else:
                    for p in range(n_paths):
                        level[p] = levels[plan, day, p]
                for p in range(n_paths):
                    need = level[p] - share * on_hand[p]
                    # 1e-9 keeps a whole number of steps from being rounded up once more
                    steps = int(np.ceil(need / step - 1e-9)) if need > 0 else 0
                    stock[fresh_slot, p] += steps * step
                if counted:
                    for p in range(n_paths):
                        batch = stock[fresh_slot, p]
                        baked[plan, weekday[day], p] += batch
                        bakes[plan, weekday[day], p] += batch > 0
                        pans[plan, p] += (batch + units_per_pan - 1) // units_per_pan

            if counted and reduce_age < life and is_open[day]:
                age = reduce_age
                while age < life:
                    slot = (day - age) % life
                    for p in range(n_paths):
                        labelled[plan, p] += stock[slot, p]
                    # what came due on closed days is relabelled on the morning after them
                    yesterday = day - 1 - (age - reduce_age)
                    if yesterday < 0 or is_open[yesterday]:
                        break
                    age += 1

            if is_open[day]:
                for p in range(n_paths):
                    wanted[p] = oldest[day, p]
                for age in range(life - 1, -1, -1):
                    slot = (day - age) % life
                    for p in range(n_paths):
                        taken = min(stock[slot, p], wanted[p])
                        stock[slot, p] -= taken
                        wanted[p] -= taken
                        if counted:
                            sold_by_age[plan, age, p] += taken
                # oldest-first shoppers left over found the shelf empty
                for p in range(n_paths):
                    wanted[p] += freshest[day, p]
                for age in range(life):
                    slot = (day - age) % life
                    for p in range(n_paths):
                        taken = min(stock[slot, p], wanted[p])
                        stock[slot, p] -= taken
                        wanted[p] -= taken
                        if counted:
                            sold_by_age[plan, age, p] += taken
                if counted:
                    for p in range(n_paths):
                        unmet[plan, p] += wanted[p]
                        short_days[plan, p] += wanted[p] > 0

            last_slot = (day - life + 1) % life
            for p in range(n_paths):
                if counted:
                    disposed[plan, p] += stock[last_slot, p]
                stock[last_slot, p] = 0
        for slot in range(life):
            for p in range(n_paths):
                closing[plan, p] += stock[slot, p]
