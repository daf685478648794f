"""Passes over the paths of one plan's day: the inner loops of the kernel.

Every loop runs over contiguous numbers, so that it vectorises. Rows are named by their indices: a
slice would cost as much as a pass over it.
"""

import numpy as np
from numba import njit


@njit(cache=True, nogil=True)
def meet(  # type: ignore[no-untyped-def]
    shoppers, day, on_hand, start, stop, passed, kept, tally, unmet, short
):
    """Where the day's sales leave off, counting the units on the shelf from the oldest on.

    Oldest-first shoppers take the units before `start`, freshest-first shoppers those from
    `stop` on; what lies between stays. `kept` begins at `start` and `passed` at 0, for `sell`.
    """
    for p in range(len(on_hand)):
        there, first, last = on_hand[p], shoppers[0, day, p], shoppers[1, day, p]
        missed = max(np.int16(first + last - there), np.int16(0))
        tally[unmet, p] += missed
        tally[short, p] += min(missed, np.int16(1))
        first = min(first, there)
        rest = np.int16(there - first)
        last = min(last, rest)
        start[p] = first
        kept[p] = first
        passed[p] = 0
        stop[p] = there - last
        on_hand[p] = rest - last


@njit(cache=True, nogil=True)
def meet_all(  # type: ignore[no-untyped-def]
    shoppers, day, on_hand, start, stop, passed, kept, tally, unmet, short, young, reduced
):
    """The same with switching shoppers, who take the oldest of the `reduced` units that are left or
    else the freshest unit, then fussy ones, for the freshest of the `young` units, and bargain
    shoppers, for the oldest of the `reduced`, who are not missed."""
    for p in range(len(on_hand)):
        there, first, last = on_hand[p], shoppers[0, day, p], shoppers[1, day, p]
        switching = shoppers[4, day, p]
        missed = max(np.int16(first + last + switching - there), np.int16(0))
        first = min(first, there)
        to_reduced = min(switching, max(np.int16(reduced[p] - first), np.int16(0)))
        first += to_reduced
        last += np.int16(switching - to_reduced)
        upto = np.int16(there - min(last, np.int16(there - first)))
        fussy = max(np.int16(upto - max(np.int16(there - young[p]), first)), np.int16(0))
        fussy = min(fussy, shoppers[2, day, p])
        missed += np.int16(shoppers[2, day, p] - fussy)
        upto -= fussy
        bargain = max(np.int16(min(reduced[p], upto) - first), np.int16(0))
        first += min(bargain, shoppers[3, day, p])
        tally[unmet, p] += missed
        tally[short, p] += min(missed, np.int16(1))
        start[p] = first
        kept[p] = first
        passed[p] = 0
        stop[p] = upto
        on_hand[p] = upto - first


@njit(cache=True, nogil=True)
def sell(stock, slot, start, stop, passed, kept, tally, sold):  # type: ignore[no-untyped-def]
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
        tally[sold, p] += np.int16(there - left)


@njit(cache=True, nogil=True)
def sell_and_take_off(  # type: ignore[no-untyped-def]
    stock, slot, start, stop, passed, kept, tally, sold, on_hand, disposed
):
    """Sell from the oldest age, the first of the day, and dispose of the rest at night."""
    for p in range(len(start)):
        there, first, last = stock[slot, p], start[p], stop[p]
        passed[p] = there
        end = min(max(there, first), last)
        left = np.int16(end - first)
        kept[p] = end
        stock[slot, p] = 0
        tally[sold, p] += np.int16(there - left)
        tally[disposed, p] += left
        on_hand[p] -= left


@njit(cache=True, nogil=True)
def take_off(stock, slot, on_hand, tally, disposed):  # type: ignore[no-untyped-def]
    """Dispose of the oldest age on a day without shoppers."""
    for p in range(len(on_hand)):
        left = stock[slot, p]
        tally[disposed, p] += left
        on_hand[p] -= left
        stock[slot, p] = 0


@njit(cache=True, nogil=True)
def add_row(total, row, rows, of):  # type: ignore[no-untyped-def]
    for p in range(rows.shape[1]):
        total[row, p] += rows[of, p]


@njit(cache=True, nogil=True)
def add_move(total, plan, part, rows, of):  # type: ignore[no-untyped-def]
    """Move a row of a running tally to its total."""
    for p in range(rows.shape[1]):
        total[plan, part, p] += rows[of, p]
        rows[of, p] = 0


@njit(cache=True, nogil=True)
def add_units(total, row, units):  # type: ignore[no-untyped-def]
    for p in range(len(units)):
        total[row, p] += units[p]


@njit(cache=True, nogil=True)
def put_units(batches, plan, day, units):  # type: ignore[no-untyped-def]
    for p in range(len(units)):
        batches[plan, day, p] = units[p]


@njit(cache=True, nogil=True)
def add_age(units, stock, slot):  # type: ignore[no-untyped-def]
    for p in range(len(units)):
        units[p] += stock[slot, p]


@njit(cache=True, nogil=True)
def clear(rows, row):  # type: ignore[no-untyped-def]
    for p in range(rows.shape[1]):
        rows[row, p] = 0


@njit(cache=True, nogil=True)
def none_yet(units):  # type: ignore[no-untyped-def]
    for p in range(len(units)):
        units[p] = 0


@njit(cache=True, nogil=True)
def add_either(tally, short, early, late):  # type: ignore[no-untyped-def]
    """Count a day of which either part was short once, and clear the parts."""
    for p in range(tally.shape[1]):
        tally[short, p] += max(tally[early, p], tally[late, p])
        tally[early, p] = 0
        tally[late, p] = 0


@njit(cache=True, nogil=True)
def fill(stock, on_hand, opening_by_age):  # type: ignore[no-untyped-def]
    """The shelf before the first day."""
    life, n_paths = stock.shape
    none_yet(on_hand)
    for age in range(life):
        slot = (life - age) % life
        for p in range(n_paths):
            units = opening_by_age[age, p]
            stock[slot, p] = units
            on_hand[p] += units


@njit(cache=True, nogil=True)
def count(counted, on_hand, stock, slot, all_units):  # type: ignore[no-untyped-def]
    """The units on the shelf before close, without those on their last day unless wanted."""
    for p in range(len(on_hand)):
        counted[p] = on_hand[p] if all_units else np.int16(on_hand[p] - stock[slot, p])


@njit(cache=True, nogil=True)
def expect_out(stock, slot, taken, upto, out):  # type: ignore[no-untyped-def]
    """Units expected to go out of date by the night of one more age, the oldest first.

    `taken` units of all ages so far are expected to be sold by then; `upto` counts what was there.
    """
    for p in range(len(out)):
        upto[p] += stock[slot, p]
        out[p] = max(out[p], np.int16(upto[p] - taken))


@njit(cache=True, nogil=True)
def steps(units, half_less, per_step):  # type: ignore[no-untyped-def]
    """Whole steps that hold the units, rounded up, without a slow integer division.

    units + step - 1/2 lies at least half a unit from any multiple of the step, which is far more
    than a float32 can err on numbers below 2^15.
    """
    return np.int16(np.int32((np.float32(units) + half_less) * per_step))


@njit(cache=True, nogil=True)
def decide(batch, level, counted, credited, step, need_from, least, most):  # type: ignore[no-untyped-def]
    """Whole steps up to one level for all paths.

    A bake is of `least` to `most` units; where less than `need_from` is needed there is none.
    """
    per_step, half_less, whole = np.float32(1 / step), np.float32(step - 0.5), np.int16(step)
    for p in range(len(counted)):
        need = np.int16(level - credited * counted[p])
        need = need if need >= need_from else np.int16(0)
        units = np.int16(steps(need, half_less, per_step) * whole)
        units = min(units, most)
        batch[p] = max(units, least) if units > 0 else units


@njit(cache=True, nogil=True)
def decide_each(  # type: ignore[no-untyped-def]
    batch, levels, plan, day, counted, credit, step, need_from, least, most
):
    """The same with a level for each path, or with part of the stock credited."""
    each = levels.shape[2] > 1
    for p in range(len(counted)):
        part = levels[plan, day, p if each else 0] - credit * counted[p]
        # 1e-9 keeps a whole number of units or steps from being rounded up once more
        part = part if np.ceil(part - 1e-9) >= need_from else 0.0
        units = np.int16(np.ceil(max(part, 0.0) / step - 1e-9) * step)
        units = min(units, most)
        batch[p] = max(units, least) if units > 0 else units


@njit(cache=True, nogil=True)
def look_up(batch, row, stock, day, sizes, shelf, by, most):  # type: ignore[no-untyped-def]
    """The batch that a table has for the stock of each age, and some more or less."""
    life = len(stock)
    for p in range(len(batch)):
        shelf[p] = 0
    for age in range(1, life):
        slot, size = (day - age) % life, sizes[age - 1]
        for p in range(len(batch)):
            shelf[p] = shelf[p] * size + min(stock[slot, p], size - 1)
    for p in range(len(batch)):
        units = row[shelf[p]]
        batch[p] = min(max(units + by, 0), most) if units > 0 and by != 0 else units


@njit(cache=True, nogil=True)
def bake(stock, slot, batch, on_hand, units_per_pan, tally, baked, bakes, pans):  # type: ignore[no-untyped-def]
    """Put the batch on the shelf, into the empty row of age 0, and count it."""
    per_pan, half_less = np.float32(1 / units_per_pan), np.float32(units_per_pan - 0.5)
    for p in range(len(batch)):
        units = batch[p]
        stock[slot, p] = units
        on_hand[p] += units
        tally[baked, p] += units
        tally[bakes, p] += min(units, np.int16(1))
        tally[pans, p] += steps(units, half_less, per_pan)
