"""The day-step loops: arrays in, arrays filled; every check stands one layer above.

Paths are the innermost index of every loop, so that each loop is one pass over contiguous
numbers. Units of age a (0 = baked today) lie in slot (day - a) mod life, so that a night
passes without moving any of them. Rows are named by their indices: a slice would cost as much
as a pass over it.
"""

import numpy as np
from numba import njit

NO_BAKE = -1


@njit(cache=True, nogil=True)
def _meet(oldest, freshest, day, on_hand, start, stop, passed, kept):  # type: ignore[no-untyped-def]
    """Where the day's sales leave off, counting the units on the shelf from the oldest on.

    Oldest-first shoppers take the units before `start`, freshest-first shoppers those from
    `stop` on; what lies between stays. `kept` begins at `start` and `passed` at 0, for `_sell`.
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
def _sell(stock, slot, start, stop, passed, kept, sold, plan, age):  # type: ignore[no-untyped-def]
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
def _sell_and_take_off(  # type: ignore[no-untyped-def]
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
def _take_off(stock, slot, on_hand, disposed, plan):  # type: ignore[no-untyped-def]
    """Dispose of the oldest age on a day without shoppers."""
    for p in range(len(on_hand)):
        left = stock[slot, p]
        disposed[plan, p] += left
        on_hand[p] -= left
        stock[slot, p] = 0


@njit(cache=True, nogil=True)
def _add_row(total, plan, rows, row):  # type: ignore[no-untyped-def]
    for p in range(rows.shape[1]):
        total[plan, p] += rows[row, p]


@njit(cache=True, nogil=True)
def _add_on_hand(total, plan, on_hand):  # type: ignore[no-untyped-def]
    for p in range(len(on_hand)):
        total[plan, p] += on_hand[p]


@njit(cache=True, nogil=True)
def _fill(stock, on_hand, opening_by_age):  # type: ignore[no-untyped-def]
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
def _steps(units, half_less, per_step):  # type: ignore[no-untyped-def]
    """Whole steps that hold the units, rounded up, without a slow integer division.

    units + step - 1/2 lies at least half a unit from any multiple of the step, which is far more
    than a float32 can err on numbers below 2^15.
    """
    return np.int16(np.int32((np.float32(units) + half_less) * per_step))


@njit(cache=True, nogil=True)
def _bake_to(stock, slot, level, on_hand, credited, step):  # type: ignore[no-untyped-def]
    """Fill the empty row of age 0 with whole steps up to one level for all paths."""
    per_step, half_less, whole = np.float32(1 / step), np.float32(step - 0.5), np.int16(step)
    for p in range(len(on_hand)):
        need = np.int16(level - credited * on_hand[p])
        need = need if need > 0 else np.int16(0)
        batch = np.int16(_steps(need, half_less, per_step) * whole)
        stock[slot, p] = batch
        on_hand[p] += batch


@njit(cache=True, nogil=True)
def _bake_each(stock, slot, levels, plan, day, on_hand, credit, step):  # type: ignore[no-untyped-def]
    """The same with a level for each path, or with part of the stock credited."""
    each = levels.shape[2] > 1
    for p in range(len(on_hand)):
        part = levels[plan, day, p if each else 0] - credit * on_hand[p]
        # 1e-9 keeps a whole number of steps from being rounded up once more
        batch = np.int16(np.ceil(max(part, 0.0) / step - 1e-9) * step)
        stock[slot, p] = batch
        on_hand[p] += batch


@njit(cache=True, nogil=True)
def _count_bakes(stock, slot, units_per_pan, baked, bakes, pans, plan, of_week):  # type: ignore[no-untyped-def]
    per_pan, half_less = np.float32(1 / units_per_pan), np.float32(units_per_pan - 0.5)
    for p in range(stock.shape[1]):
        units = stock[slot, p]
        baked[plan, of_week, p] += units
        bakes[plan, of_week, p] += np.int32(1) if units > 0 else np.int32(0)
        pans[plan, p] += _steps(units, half_less, per_pan)


@njit(cache=True, nogil=True)
def _count_unmet(oldest, freshest, day, on_hand, unmet, short_days, plan):  # type: ignore[no-untyped-def]
    """Shoppers beyond the units on the shelf."""
    for p in range(len(on_hand)):
        missed = np.int16(oldest[day, p] + freshest[day, p] - on_hand[p])
        unmet[plan, p] += missed if missed > 0 else np.int16(0)
        short_days[plan, p] += np.int32(1) if missed > 0 else np.int32(0)


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
        _fill(stock, on_hand, opening_by_age)
        is_plain = n_levels == 1 and (credit[plan] == 0.0 or credit[plan] == 1.0)
        for day in range(n_days):
            counted = day >= first_day
            fresh_slot = day % life
            last_slot = fresh_slot + 1 if fresh_slot + 1 < life else 0
            if day == first_day:
                _add_on_hand(opening, plan, on_hand)

            if levels[plan, day, 0] != NO_BAKE and is_open[day]:
                if is_plain:
                    credited = np.int16(credit[plan])
                    _bake_to(stock, fresh_slot, levels[plan, day, 0], on_hand, credited, step)
                else:
                    _bake_each(stock, fresh_slot, levels, plan, day, on_hand, credit[plan], step)
                if counted:
                    of_week = weekday[day]
                    _count_bakes(
                        stock, fresh_slot, units_per_pan, baked, bakes, pans, plan, of_week
                    )

            if counted and reduce_age < life and is_open[day]:
                age = reduce_age
                while age < life:
                    _add_row(labelled, plan, stock, (day - age) % life)
                    # what came due on closed days is relabelled on the morning after them
                    yesterday = day - 1 - (age - reduce_age)
                    if yesterday < 0 or is_open[yesterday]:
                        break
                    age += 1

            row = plan if counted else n_plans
            if is_open[day]:
                if counted:
                    _count_unmet(oldest, freshest, day, on_hand, unmet, short_days, plan)
                _meet(oldest, freshest, day, on_hand, start, stop, passed, kept)
                _sell_and_take_off(
                    *(stock, last_slot, start, stop, passed, kept),
                    *(sold_by_age, row, life - 1, on_hand, disposed),
                )
                slot = last_slot
                for age in range(life - 2, -1, -1):
                    slot = slot + 1 if slot + 1 < life else 0
                    _sell(stock, slot, start, stop, passed, kept, sold_by_age, row, age)
            else:
                _take_off(stock, last_slot, on_hand, disposed, row)
        _add_on_hand(closing, plan, on_hand)
