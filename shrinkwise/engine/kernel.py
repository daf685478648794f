"""The day-step loop: arrays in, arrays filled; every check stands one layer above.

Units of age a (0 = baked today) lie in slot (day - a) mod life, so that a night passes without
moving any of them.
"""

import numpy as np
from numba import njit

from shrinkwise.engine.passes import (
    add_age,
    add_either,
    add_move,
    add_row,
    add_units,
    bake,
    clear,
    count,
    decide,
    decide_each,
    expect_out,
    fill,
    look_up,
    meet,
    meet_all,
    none_yet,
    put_units,
    sell,
    sell_and_take_off,
    take_off,
)
from shrinkwise.engine.policy import NO_BAKE

DISPOSED, UNMET, SHORT, PANS, LABELLED, TOTALS = 0, 1, 2, 3, 4, 5
EARLY, LATE, BAKED, BAKES, SOLD = 5, 6, 7, 14, 21
"""Rows of the running tally; from the last three on one for each weekday or age."""


@njit(cache=True, nogil=True)
def _move(running, plan, totals, baked, bakes, sold):  # type: ignore[no-untyped-def]
    """Add the running tally to the totals before it could overflow, and clear it."""
    for row in range(TOTALS):
        add_move(totals, plan, row, running, row)
    for day in range(7):
        add_move(baked, plan, day, running, BAKED + day)
        add_move(bakes, plan, day, running, BAKES + day)
    for age in range(sold.shape[1]):
        add_move(sold, plan, age, running, SOLD + age)


@njit(cache=True, nogil=True)
def _decide(  # type: ignore[no-untyped-def]
    levels, credit, step, need_from, least, most, taken, plan, day, batch, counted, stock, out, upto
):
    """The batch of a day from the units counted, whose slots are those of that day."""
    level, life = levels[plan, day, 0], len(stock)
    if len(taken) > 0 and life > 1 and taken[plan, day, 0] >= 0:
        none_yet(out)
        none_yet(upto)
        for night in range(life - 1):
            if taken[plan, day, night] < 0:
                break
            expect_out(stock, (day + 1 + night) % life, taken[plan, day, night], upto, out)
        for p in range(len(out)):
            # what goes out of date is as good as gone
            out[p] = counted[p] - out[p]
        decide(batch, level, out, np.int16(1), step, need_from[plan], least, most[plan, day])
    elif levels.shape[2] == 1 and (credit[plan] == 0.0 or credit[plan] == 1.0):
        credited = np.int16(credit[plan])
        decide(batch, level, counted, credited, step, need_from[plan], least, most[plan, day])
    else:
        decide_each(
            batch, levels, plan, day, counted, credit[plan], step, need_from[plan], least,
            most[plan, day],
        )  # fmt: skip


@njit(cache=True, nogil=True)
def _tell_ages(stock, day, fussy_age, reduce_age, young, reduced):  # type: ignore[no-untyped-def]
    """The units that fussy shoppers take, and those at the reduced price."""
    life = len(stock)
    none_yet(young)
    none_yet(reduced)
    for age in range(life):
        if age < fussy_age:
            add_age(young, stock, (day - age) % life)
        if age >= reduce_age:
            add_age(reduced, stock, (day - age) % life)


@njit(cache=True, nogil=True)
def _label(running, stock, day, reduce_age, is_open):  # type: ignore[no-untyped-def]
    """Count the units that come under the reduced price on an open day."""
    life = len(stock)
    for age in range(reduce_age, life):
        add_row(running, LABELLED, stock, (day - age) % life)
        # what came due on closed days is relabelled on the morning after them
        yesterday = day - 1 - (age - reduce_age)
        if yesterday < 0 or is_open[yesterday]:
            break


@njit(cache=True, nogil=True)
def run(plans, world, tally):  # type: ignore[no-untyped-def]
    """Play every plan on every path; the tally is added to.

    Parameters
    ----------
    plans, world, tally
        As `shrinkwise.engine.tables` describes them.
    """
    # fields are looked up once: within the loops it would cost as much as a pass
    (
        levels, credit, step, units_per_pan, need_from, least, most, taken, count_all, by_table,
        table, lifted, sizes,
    ) = plans  # fmt: skip
    shoppers, early, is_open, weekday, life, reduce_age, fussy_age, first_day, opening, whole = (
        world
    )
    baked, bakes, sold, totals, opening_units, closing_units, batches = tally
    n_plans, n_days, _ = levels.shape
    n_paths = shoppers.shape[2]
    stock, running = np.empty((life, n_paths), np.int16), np.zeros((SOLD + life, n_paths), np.int16)
    on_hand, batch = np.empty(n_paths, np.int16), np.empty(n_paths, np.int16)
    start, stop = np.empty(n_paths, np.int16), np.empty(n_paths, np.int16)
    passed, kept = np.empty(n_paths, np.int16), np.empty(n_paths, np.int16)
    young, reduced = np.empty(n_paths, np.int16), np.empty(n_paths, np.int16)
    shelf = np.empty(n_paths, np.int64)
    two_kinds, in_parts = len(shoppers) == 2, early.shape[1] > 0
    for plan in range(n_plans):
        fill(stock, on_hand, opening)
        is_plain = levels.shape[2] == 1 and (credit[plan] == 0.0 or credit[plan] == 1.0)
        at_once = is_plain and len(taken) == 0 and not in_parts and len(table) == 0
        credited = np.int16(credit[plan])
        for day in range(n_days):
            fresh = day % life
            last = fresh + 1 if fresh + 1 < life else 0
            if day <= first_day and (day == first_day or day % whole == 0):
                for row in range(len(running)):
                    clear(running, row)
            elif day % whole == 0:
                _move(running, plan, totals, baked, bakes, sold)
            if day == first_day:
                add_units(opening_units, plan, on_hand)

            if levels[plan, day, 0] != NO_BAKE and is_open[day]:
                if at_once:
                    decide(
                        batch, levels[plan, day, 0], on_hand, credited, step, need_from[plan],
                        least, most[plan, day],
                    )  # fmt: skip
                elif len(table) > 0 and by_table[plan, day]:
                    look_up(
                        batch, table[weekday[day]], stock, day, sizes, shelf, lifted[plan, day],
                        most[plan, day],
                    )  # fmt: skip
                elif day == 0 or not in_parts:
                    _decide(
                        levels, credit, step, need_from, least, most, taken, plan, day, batch,
                        on_hand, stock, young, reduced,
                    )  # fmt: skip
                of_week = weekday[day]
                bake(
                    stock, fresh, batch, on_hand, units_per_pan, running, BAKED + of_week,
                    BAKES + of_week, PANS,
                )  # fmt: skip
                if len(batches) > 0:
                    put_units(batches, plan, day, batch)
            if is_open[day] and reduce_age < life:
                _label(running, stock, day, reduce_age, is_open)
            if in_parts:
                if is_open[day]:
                    if two_kinds:
                        meet(early, day, on_hand, start, stop, passed, kept, running, UNMET, EARLY)
                    else:
                        _tell_ages(stock, day, fussy_age, reduce_age, young, reduced)
                        meet_all(
                            early, day, on_hand, start, stop, passed, kept, running, UNMET, EARLY,
                            young, reduced,
                        )  # fmt: skip
                    slot = last
                    for age in range(life - 1, -1, -1):
                        sell(stock, slot, start, stop, passed, kept, running, SOLD + age)
                        slot = slot + 1 if slot + 1 < life else 0
                if day + 1 < n_days and levels[plan, day + 1, 0] != NO_BAKE:
                    count(kept, on_hand, stock, last, count_all)
                    _decide(
                        levels, credit, step, need_from, least, most, taken, plan, day + 1, batch,
                        kept, stock, young, reduced,
                    )  # fmt: skip
            if not is_open[day]:
                take_off(stock, last, on_hand, running, DISPOSED)
                continue
            short = LATE if in_parts else SHORT
            if two_kinds:
                meet(shoppers, day, on_hand, start, stop, passed, kept, running, UNMET, short)
            else:
                _tell_ages(stock, day, fussy_age, reduce_age, young, reduced)
                meet_all(
                    shoppers, day, on_hand, start, stop, passed, kept, running, UNMET, short,
                    young, reduced,
                )  # fmt: skip
            sell_and_take_off(
                stock, last, start, stop, passed, kept, running, SOLD + life - 1, on_hand, DISPOSED
            )
            slot = last
            for age in range(life - 2, -1, -1):
                slot = slot + 1 if slot + 1 < life else 0
                sell(stock, slot, start, stop, passed, kept, running, SOLD + age)
            if in_parts:
                add_either(running, SHORT, EARLY, LATE)
        _move(running, plan, totals, baked, bakes, sold)
        add_units(closing_units, plan, on_hand)
