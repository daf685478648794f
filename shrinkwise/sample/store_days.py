"""The store's days, played one line at a time and one day at a time.

Written plainly, with batches in a list, so that it can serve as a second, independent account
of what happens on a shelf.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta
from math import ceil

import numpy as np
from numpy.typing import NDArray

from shrinkwise.sample.line_truth import LineTruth
from shrinkwise.sample.shoppers import Shoppers, drawn_shoppers
from shrinkwise.sample.truth import TRUTH, StoreTruth, day_range, expected_by_baker

Ints = NDArray[np.int64]
BakeRule = Callable[[int, int], int]
"""(index of the day, units on hand before opening) -> units to bake."""


@dataclass(frozen=True)
class DayBook:
    """What happened to one line on every day; all in units, age = day on shelf less 1.

    Attributes
    ----------
    start : date
    baked, unmet, disposed, closing : array of int, shape (n_days,)
        Units baked; wanted and not there; disposed of on their last day; left after that.
    sold_by_age, relabelled_by_age, damaged_by_age : array of int, shape (n_days, life)
    donated, sold_out : array of bool, shape (n_days,)
        Whether the disposed units were given away; whether an open store had nothing left
        before close.
    opening_by_age, closing_by_age : array of int, shape (life,)
        Units before the first day by their age on it, and after the last day by their age on
        the day after it, so that the one continues the other; age 0 is empty.
    """

    start: date
    baked: Ints
    unmet: Ints
    disposed: Ints
    closing: Ints
    sold_by_age: Ints
    relabelled_by_age: Ints
    damaged_by_age: Ints
    donated: NDArray[np.bool_]
    sold_out: NDArray[np.bool_]
    opening_by_age: Ints
    closing_by_age: Ints


@dataclass
class _Batch:
    bake_day: int
    units: int
    relabelled: bool = False


def play(
    line: LineTruth,
    demand: NDArray[np.integer],
    start: date,
    opening_by_age: NDArray[np.integer] | None,
    rng: np.random.Generator,
    store: StoreTruth = TRUTH,
) -> DayBook:
    """Play the store's own habit on a given demand, in the logs' time or after it.

    Parameters
    ----------
    line : LineTruth
    demand : array of int, shape (n_days,)
        Units wanted [units per day].
    start : date
        First day.
    opening_by_age : array of int, shape (life,), or None
        Units on the shelf before the first day by their age on it; None for an empty shelf.
    rng : numpy.random.Generator
        Draws the shoppers' kinds, the baker's misjudgement, damage and donations.
    store : StoreTruth

    Returns
    -------
    DayBook
    """
    shoppers = drawn_shoppers(line, demand, start, rng, store)
    rule = habit_rule(line, start, len(demand), rng, store)
    return play_days(line, shoppers, start, opening_by_age, rule, rng, store)


def habit_rule(
    line: LineTruth, start: date, n_days: int, rng: np.random.Generator, store: StoreTruth = TRUTH
) -> BakeRule:
    """The habit of `line` as a rule for `n_days` days from `start` on.

    Parameters
    ----------
    line : LineTruth
    start : date
    n_days : int
    rng : numpy.random.Generator
        Draws the baker's misjudgement of each day.
    store : StoreTruth
    """
    habit = line.habit
    days = day_range(start, n_days + line.coded_life_days)
    expected = expected_by_baker(line, days, store)
    misjudged = np.exp(rng.normal(0.0, habit.noise, n_days))
    bakes = [day.weekday() in habit.bake_weekdays and store.plans_to_open(day) for day in days]

    def rule(day: int, on_hand: int) -> int:
        if not bakes[day]:
            return 0
        until = day + 1
        while until < day + line.coded_life_days and not bakes[until]:
            until += 1
        need = habit.factor * float(expected[day:until].sum()) - habit.credit * on_hand
        step = line.settings.batch_step
        # 1e-9 keeps a whole number of steps from being rounded up once more
        return max(0, ceil(need * float(misjudged[day]) / step - 1e-9)) * step

    return rule


def play_days(
    line: LineTruth,
    shoppers: Shoppers,
    start: date,
    opening_by_age: NDArray[np.integer] | None,
    rule: BakeRule,
    rng: np.random.Generator,
    store: StoreTruth = TRUTH,
) -> DayBook:
    """Play given shoppers and a given rule, in the order of a shop's day.

    Bake, relabel, damage, shoppers, close, disposal. While the store is closed nothing is
    baked, relabelled or sold, but units still grow old and leave with the date of their last
    day; units whose turn to be relabelled fell on a closed day are relabelled next morning.

    Parameters
    ----------
    line : LineTruth
        Gives shelf life and day of reduction.
    shoppers : Shoppers
        In the order of the kinds: oldest-first, switching, freshest-first, fussy, bargain.
    start : date
    opening_by_age : array of int, shape (life,), or None
    rule : BakeRule
        Asked on every open day.
    rng : numpy.random.Generator
        Draws damage and donations.
    store : StoreTruth

    Returns
    -------
    DayBook
    """
    n_days, life = len(shoppers.oldest), line.coded_life_days
    fussy_age = line.kinds.fussy_until_day - 1
    reduce_age = (line.settings.reduce_on_day or life + 1) - 1
    opening = np.zeros(life, np.int64) if opening_by_age is None else opening_by_age.astype(int)
    shelf = [
        _Batch(-age, int(opening[age]), age > reduce_age)
        for age in range(life - 1, 0, -1)
        if opening[age]
    ]
    baked, unmet, disposed, closing = np.zeros((4, n_days), np.int64)
    sold, relabelled, damaged = np.zeros((3, n_days, life), np.int64)
    donated, sold_out = np.zeros((2, n_days), np.bool_)

    for day in range(n_days):
        if store.is_open(start + timedelta(days=day)):
            batch = rule(day, sum(batch.units for batch in shelf))
            if batch > 0:
                shelf.append(_Batch(day, batch))
                baked[day] = batch
            for batch_there in shelf:
                age = day - batch_there.bake_day
                if age >= reduce_age and not batch_there.relabelled:
                    relabelled[day, age] += batch_there.units
                    batch_there.relabelled = True
                broken = int(rng.binomial(batch_there.units, store.damage_rate))
                batch_there.units -= broken
                damaged[day, age] += broken
            # the list runs from the oldest batch to the freshest
            reduced = [b for b in shelf if day - b.bake_day >= reduce_age]
            young = [b for b in shelf[::-1] if day - b.bake_day <= fussy_age]
            visits = [shoppers.of_day(day)]
            if line.kinds.in_any_order:
                one_by_one = np.repeat(np.eye(5, dtype=np.int64), visits[0], axis=0)
                visits = rng.permutation(one_by_one).tolist()
            for oldest, switching, freshest, fussy, bargain in visits:
                unmet[day] += _take(shelf, oldest, day, sold)
                to_freshest = _take(reduced, switching, day, sold) + freshest
                unmet[day] += _take(shelf[::-1], to_freshest, day, sold)
                unmet[day] += _take(young, fussy, day, sold)
                _take(reduced, bargain, day, sold)
            sold_out[day] = not any(batch_there.units for batch_there in shelf)
        disposed[day] = sum(b.units for b in shelf if day - b.bake_day == life - 1)
        donated[day] = disposed[day] > 0 and rng.random() < store.donated_share
        shelf = [b for b in shelf if b.units and day - b.bake_day < life - 1]
        closing[day] = sum(b.units for b in shelf)

    closing_by_age = np.zeros(life, np.int64)
    for batch_there in shelf:
        closing_by_age[n_days - batch_there.bake_day] = batch_there.units
    return DayBook(
        start=start,
        baked=baked,
        unmet=unmet,
        disposed=disposed,
        closing=closing,
        sold_by_age=sold,
        relabelled_by_age=relabelled,
        damaged_by_age=damaged,
        donated=donated,
        sold_out=sold_out,
        opening_by_age=opening,
        closing_by_age=closing_by_age,
    )


def _take(shelf: list[_Batch], wanted: int, day: int, sold: Ints) -> int:
    """Sell up to `wanted` units from the front of `shelf`; the units that were not there."""
    for batch in shelf:
        taken = min(batch.units, wanted)
        batch.units -= taken
        wanted -= taken
        sold[day, day - batch.bake_day] += taken
    return wanted
