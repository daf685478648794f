"""Passes over the paths of one plan's day: the inner loops of the kernel.

Every loop runs over contiguous numbers, so that it vectorises. Rows are named by their indices: a
slice would cost as much as a pass over it.
"""

import numpy as np
from numba import njit


@njit(cache=True, nogil=True)
def meet(oldest, freshest, day, on_hand, start, stop, passed, kept):  # type: ignore[no-untyped-def]
    """Where the day's sales leave off, counting the units on the shelf from the oldest on.

    Oldest-first shoppers take the units before `start`, freshest-first shoppers those from
    `stop` on; what lies between stays. `kept` begins at `start` and `passed` at 0, for `sell`.
    """
    for p in range(len(on_hand)):
        there, first, last = on_hand[p], oldest[day, p], freshest[day, p]
        first = min(first, there)
        rest = np.int16(there - first)
        last = min(last, rest)
        start[p] = first
        kept[p] = first
        passed[p] = 0
        stop[p] = there - last
        on_hand[p] = rest - last


@njit(cache=True, nogil=True)
def sell(stock, slot, start, stop, passed, kept, sold, plan, age):  # type: ignore[no-untyped-def]
    """Sell from one age: what lies between `start` and `stop` stays; ages come oldest first.

    `passed` counts the units up to and with this age, `kept` where the units that stay end.
    """
    for p in range(len(start)):
        there, first, last = stock[slot, p], start[p], stop[p]
        upto = np.int16(passed[p] + there)
        passed[p] = upto
        end = min(max(upto, first), last)
        left = np.int16(end - kept[p])
        kept[p] = end
        stock[slot, p] = left
        sold[plan, age, p] += np.int16(there - left)


@njit(cache=True, nogil=True)
def sell_and_take_off(  # type: ignore[no-untyped-def]
    stock, slot, start, stop, passed, kept, sold, plan, age, on_hand, disposed
):
    """Sell from the oldest age, the first of the day, and dispose of the rest at night."""
    for p in range(len(start)):
        there, first, last = stock[slot, p], start[p], stop[p]
        passed[p] = there
        end = min(max(there, first), last)
        left = np.int16(end - first)
        kept[p] = end
        stock[slot, p] = 0
        sold[plan, age, p] += np.int16(there - left)
        disposed[plan, p] += left
        on_hand[p] -= left


@njit(cache=True, nogil=True)
def take_off(stock, slot, on_hand, disposed, plan):  # type: ignore[no-untyped-def]
    """Dispose of the oldest age on a day without shoppers."""
    for p in range(len(on_hand)):
        left = stock[slot, p]
        disposed[plan, p] += left
        on_hand[p] -= left
        stock[slot, p] = 0


@njit(cache=True, nogil=True)
def add_row(total, plan, rows, row):  # type: ignore[no-untyped-def]
    for p in range(rows.shape[1]):
        total[plan, p] += rows[row, p]


@njit(cache=True, nogil=True)
def add_on_hand(total, plan, on_hand):  # type: ignore[no-untyped-def]
    for p in range(len(on_hand)):
        total[plan, p] += on_hand[p]


@njit(cache=True, nogil=True)
def fill(stock, on_hand, opening_by_age):  # type: ignore[no-untyped-def]
    """The shelf before the first day."""
    life, n_paths = stock.shape
    on_hand[:] = 0
    for age in range(life):
        slot = (life - age) % life
        for p in range(n_paths):
            units = opening_by_age[age, p]
            stock[slot, p] = units
            on_hand[p] += units


@njit(cache=True, nogil=True)
def steps(units, half_less, per_step):  # type: ignore[no-untyped-def]
    """Whole steps that hold the units, rounded up, without a slow integer division.

    units + step - 1/2 lies at least half a unit from any multiple of the step, which is far more
    than a float32 can err on numbers below 2^15.
    """
    return np.int16(np.int32((np.float32(units) + half_less) * per_step))


@njit(cache=True, nogil=True)
def bake_to(  # type: ignore[no-untyped-def]
    stock, slot, level, on_hand, credited, step, need_from, least, most
):
    """Fill the empty row of age 0 with whole steps up to one level for all paths.

    A bake is of `least` to `most` units; where less than `need_from` is needed there is none.
    """
    per_step, half_less, whole = np.float32(1 / step), np.float32(step - 0.5), np.int16(step)
    for p in range(len(on_hand)):
        need = np.int16(level - credited * on_hand[p])
        need = need if need >= need_from else np.int16(0)
        batch = np.int16(steps(need, half_less, per_step) * whole)
        batch = min(batch, most)
        batch = max(batch, least) if batch > 0 else batch
        stock[slot, p] = batch
        on_hand[p] += batch


@njit(cache=True, nogil=True)
def bake_each(  # type: ignore[no-untyped-def]
    stock, slot, levels, plan, day, on_hand, credit, step, need_from, least, most
):
    """The same with a level for each path, or with part of the stock credited."""
    each = levels.shape[2] > 1
    for p in range(len(on_hand)):
        part = levels[plan, day, p if each else 0] - credit * on_hand[p]
        # 1e-9 keeps a whole number of units or steps from being rounded up once more
        part = part if np.ceil(part - 1e-9) >= need_from else 0.0
        batch = np.int16(np.ceil(max(part, 0.0) / step - 1e-9) * step)
        batch = min(batch, most)
        batch = max(batch, least) if batch > 0 else batch
        stock[slot, p] = batch
        on_hand[p] += batch


@njit(cache=True, nogil=True)
def count_bakes(stock, slot, units_per_pan, baked, bakes, pans, plan, of_week):  # type: ignore[no-untyped-def]
    per_pan, half_less = np.float32(1 / units_per_pan), np.float32(units_per_pan - 0.5)
    for p in range(stock.shape[1]):
        units = stock[slot, p]
        baked[plan, of_week, p] += units
        bakes[plan, of_week, p] += np.int32(1) if units > 0 else np.int32(0)
        pans[plan, p] += steps(units, half_less, per_pan)


@njit(cache=True, nogil=True)
def count_unmet(oldest, freshest, day, on_hand, unmet, short_days, plan):  # type: ignore[no-untyped-def]
    """Shoppers beyond the units on the shelf."""
    for p in range(len(on_hand)):
        missed = np.int16(oldest[day, p] + freshest[day, p] - on_hand[p])
        unmet[plan, p] += missed if missed > 0 else np.int16(0)
        short_days[plan, p] += np.int32(1) if missed > 0 else np.int32(0)
