"""The day-step loops: arrays in, arrays filled; every check stands one layer above.

Paths are the innermost index of every loop, so that each loop is one pass over contiguous
numbers. Units of age a (0 = baked today) lie in slot (day - a) mod life, so that a night
passes without moving any of them.
"""

import numpy as np
from numba import njit

NO_BAKE = -1


@njit(cache=True, nogil=True)
def _meet(oldest, freshest, on_hand, start, stop, passed, kept):  # type: ignore[no-untyped-def]
    """Where the day's sales leave off, counting the units on the shelf from the oldest on.

    Oldest-first shoppers take the units before `start`, freshest-first shoppers those from
    `stop` on; what lies between stays. `kept` begins at `start` and `passed` at 0, for `_sell`.
    """
    for p in range(len(on_hand)):
        there, first, last = on_hand[p], oldest[p], freshest[p]
        first = min(first, there)
        rest = np.int16(there - first)
        last = min(last, rest)
        start[p] = first
        kept[p] = first
        passed[p] = 0
        stop[p] = there - last
        on_hand[p] = rest - last


@njit(cache=True, nogil=True)
def _sell(on_shelf, start, stop, passed, kept, sold):  # type: ignore[no-untyped-def]
    """Sell from one age: what lies between `start` and `stop` stays; ages come oldest first.

    `passed` counts the units up to and with this age, `kept` where the units that stay end.
    """
    for p in range(len(on_shelf)):
        there, first, last = on_shelf[p], start[p], stop[p]
        upto = np.int16(passed[p] + there)
        passed[p] = upto
        end = min(max(upto, first), last)
        left = np.int16(end - kept[p])
        kept[p] = end
        on_shelf[p] = left
        sold[p] += np.int16(there - left)


@njit(cache=True, nogil=True)
def _add(total, row):  # type: ignore[no-untyped-def]
    """Add an int16 row to a total."""
    for p in range(len(row)):
        total[p] += row[p]


@njit(cache=True, nogil=True)
def _spread(row, values):  # type: ignore[no-untyped-def]
    """Fill a row with one value for all paths, or with one for each."""
    if len(values) == 1:
        for p in range(len(row)):
            row[p] = values[0]
    else:
        for p in range(len(row)):
            row[p] = values[p]


@njit(cache=True, nogil=True)
def _bake(on_shelf, level, on_hand, credit, step):  # type: ignore[no-untyped-def]
    """Fill the empty row of age 0 with whole steps that lift the credited stock to the level."""
    if credit == 1.0 or credit == 0.0:
        per_step, half_less = np.float32(1 / step), np.float32(step - 0.5)
        whole, credited = np.int16(step), np.int16(credit)
        for p in range(len(on_shelf)):
            need = np.int16(level[p] - credited * on_hand[p])
            need = need if need > 0 else np.int16(0)
            batch = np.int16(_steps(need, half_less, per_step) * whole)
            on_shelf[p] = batch
            on_hand[p] += batch
    else:
        for p in range(len(on_shelf)):
            part = level[p] - credit * on_hand[p]
            # 1e-9 keeps a whole number of steps from being rounded up once more
            batch = np.int16(np.ceil(max(part, 0.0) / step - 1e-9) * step)
            on_shelf[p] = batch
            on_hand[p] += batch


@njit(cache=True, nogil=True)
def _steps(units, half_less, per_step):  # type: ignore[no-untyped-def]
    """Whole steps that hold the units, rounded up, without a slow integer division.

    units + step - 1/2 lies at least half a unit from any multiple of the step, which is far more
    than a float32 can err on numbers below 2^15.
    """
    return np.int16(np.int32((np.float32(units) + half_less) * per_step))


@njit(cache=True, nogil=True)
def _count_bakes(batch, units_per_pan, baked, bakes, pans):  # type: ignore[no-untyped-def]
    per_pan, half_less = np.float32(1 / units_per_pan), np.float32(units_per_pan - 0.5)
    for p in range(len(batch)):
        units = batch[p]
        baked[p] += units
        bakes[p] += np.int32(1) if units > 0 else np.int32(0)
        pans[p] += _steps(units, half_less, per_pan)


@njit(cache=True, nogil=True)
def _count_unmet(oldest, freshest, on_hand, unmet, short_days):  # type: ignore[no-untyped-def]
    """Shoppers beyond the units on the shelf."""
    for p in range(len(on_hand)):
        missed = np.int16(oldest[p] + freshest[p] - on_hand[p])
        unmet[p] += missed if missed > 0 else np.int16(0)
        short_days[p] += np.int32(1) if missed > 0 else np.int32(0)


@njit(cache=True, nogil=True)
def _take_off(on_hand, on_shelf):  # type: ignore[no-untyped-def]
    """Empty a row of the shelf."""
    for p in range(len(on_hand)):
        on_hand[p] -= on_shelf[p]
        on_shelf[p] = 0


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
    n_plans, n_days, _ = levels.shape
    n_paths = oldest.shape[1]
    stock = np.empty((life, n_paths), np.int16)
    on_hand = np.empty(n_paths, np.int16)
    level = np.empty(n_paths, np.int16)
    # one by one: rows unpacked from one array are not known to be contiguous
    start, stop = np.empty(n_paths, np.int16), np.empty(n_paths, np.int16)
    passed, kept = np.empty(n_paths, np.int16), np.empty(n_paths, np.int16)
    not_counted = np.empty(n_paths, np.int32)
    for plan in range(n_plans):
        on_hand[:] = 0
        for age in range(life):
            stock[(life - age) % life] = opening_by_age[age]
            _add(on_hand, opening_by_age[age])
        for day in range(n_days):
            counted = day >= first_day
            fresh_slot = day % life
            if day == first_day:
                _add(opening[plan], on_hand)

            if levels[plan, day, 0] != NO_BAKE and is_open[day]:
                _spread(level, levels[plan, day])
                _bake(stock[fresh_slot], level, on_hand, credit[plan], step)
                if counted:
                    of_week = weekday[day]
                    _count_bakes(
                        stock[fresh_slot],
                        units_per_pan,
                        baked[plan, of_week],
                        bakes[plan, of_week],
                        pans[plan],
                    )

            if counted and reduce_age < life and is_open[day]:
                age = reduce_age
                while age < life:
                    _add(labelled[plan], stock[(day - age) % life])
                    # what came due on closed days is relabelled on the morning after them
                    yesterday = day - 1 - (age - reduce_age)
                    if yesterday < 0 or is_open[yesterday]:
                        break
                    age += 1

            if is_open[day]:
                if counted:
                    _count_unmet(oldest[day], freshest[day], on_hand, unmet[plan], short_days[plan])
                _meet(oldest[day], freshest[day], on_hand, start, stop, passed, kept)
                for age in range(life - 1, -1, -1):
                    sold = sold_by_age[plan, age] if counted else not_counted
                    _sell(stock[(day - age) % life], start, stop, passed, kept, sold)

            last_slot = (day - life + 1) % life
            if counted:
                _add(disposed[plan], stock[last_slot])
            _take_off(on_hand, stock[last_slot])
        _add(closing[plan], on_hand)
