"""The kernel against the sample store's own account of its days, to the unit over two years.

The two share no code: one moves slots of an array for many plans at once, the other keeps a list
of batches for one line.
"""

from dataclasses import dataclass, replace
from datetime import date, timedelta
from math import ceil

import numpy as np
import pytest
from numpy.typing import NDArray

from shrinkwise.engine.policy import NO_BAKE, Days, Policy, Shelf
from shrinkwise.engine.simulate import Flows, simulate
from shrinkwise.sample.line_truth import LineTruth
from shrinkwise.sample.shoppers import Shoppers
from shrinkwise.sample.store_days import BakeRule, DayBook, play_days
from shrinkwise.sample.truth import TRUTH, StoreTruth, day_range, demand_paths

Ints = NDArray[np.int64]
N_DAYS = 728
N_PATHS = 2

# nothing is damaged in the kernel's world
UNDAMAGED = replace(TRUTH, damage_rate=0.0)
# single closed days, two and three in a row, and one on the first day of the records
OFTEN_CLOSED = replace(
    UNDAMAGED,
    sudden_closures=tuple(
        TRUTH.start + timedelta(days=day)
        for day in (0, 9, 20, 21, 40, 41, 42, 100, 102, 104, 333, 334, 500, 501, 502, 503, 727)
    ),
)


@dataclass(frozen=True)
class Plan:
    """Levels by weekday (NO_BAKE without a bake), credit, and a small change from day to day.

    A bake is of `least` to `most` steps, and takes place where `need_from` units are needed.
    """

    levels: tuple[int, ...]
    credit: float
    least: int = 0
    most: int = 1000
    need_from: int = 1

    def level(self, day: date) -> int:
        level = self.levels[day.weekday()]
        return level if level == NO_BAKE else level + day.toordinal() % 3

    def rule(self, start: date, step: int) -> BakeRule:
        def batch(day: int, on_hand: int) -> int:
            level = self.level(start + timedelta(days=day))
            if level == NO_BAKE:
                return 0
            need = level - self.credit * on_hand
            steps = ceil(need / step - 1e-9) if ceil(need - 1e-9) >= self.need_from else 0
            return min(max(steps, self.least), self.most) * step if steps else 0

        return batch


def plans_for(line: LineTruth) -> list[Plan]:
    """A target every day, a partly credited batch on four days, and a set batch on two."""
    need = [line.mean_units * share for share in line.weekday_shape]
    every = tuple(int(1.4 * units) for units in need)
    four = tuple(int(2.2 * need[d]) if d in (0, 2, 4, 5) else NO_BAKE for d in range(7))
    two = tuple(int(3.5 * need[d]) if d in (1, 4) else NO_BAKE for d in range(7))
    return [Plan(every, 1.0), Plan(four, 0.6), Plan(two, 0.0)]


def streams_of(line: LineTruth, store: StoreTruth, seed: int) -> NDArray[np.int16]:
    rng = np.random.default_rng(seed)
    demand = demand_paths(line, TRUTH.start, N_DAYS, N_PATHS, rng, store)
    oldest = rng.binomial(demand, line.oldest_first_share)
    return np.stack([oldest, demand - oldest]).astype(np.int16)


def kernel(
    line: LineTruth,
    store: StoreTruth,
    plans: list[Plan],
    streams: NDArray[np.int16],
    opening: Ints | None,
    first_day: int = 0,
    start: date = TRUTH.start,
) -> Flows:
    dates = day_range(start, streams.shape[1])
    levels = np.array([[plan.level(day) for day in dates] for plan in plans], np.int16)
    return simulate(
        streams,
        Policy(
            levels[:, :, None],
            np.array([plan.credit for plan in plans]),
            line.settings.batch_step,
            line.settings.units_per_pan,
            plans[0].least * line.settings.batch_step,
            np.array([plan.need_from for plan in plans], np.int16),
            np.array([plan.most * line.settings.batch_step for plan in plans], np.int16),
        ),
        Shelf(line.coded_life_days, line.settings.reduce_on_day),
        Days(
            np.array([day.weekday() for day in dates]),
            np.array([store.is_open(day) for day in dates]),
            first_day,
        ),
        opening,
    )


def book_of(
    line: LineTruth,
    store: StoreTruth,
    plan: Plan,
    shoppers: NDArray[np.int16],
    opening: Ints | None,
    start: date = TRUTH.start,
) -> DayBook:
    rule = plan.rule(start, line.settings.batch_step)
    rng = np.random.default_rng(0)
    return play_days(line, Shoppers.plain(*shoppers), start, opening, rule, rng, store)


def assert_same(flows: Flows, plan: int, path: int, book: DayBook, line: LineTruth,
                first_day: int = 0) -> None:  # fmt: skip
    """Every figure of the flows from the book's days from `first_day` on."""
    days = slice(first_day, None)
    baked = book.baked[days]
    weekday = np.array(
        [(book.start + timedelta(days=first_day + day)).weekday() for day in range(len(baked))]
    )
    by_weekday = np.bincount(weekday, baked, 7).astype(int)
    bakes_by_weekday = np.bincount(weekday, baked > 0, 7).astype(int)
    before = book.closing[first_day - 1] if first_day else book.opening_by_age.sum()
    pan = line.settings.units_per_pan
    assert flows.baked[plan, :, path].tolist() == by_weekday.tolist()
    assert flows.bakes[plan, :, path].tolist() == bakes_by_weekday.tolist()
    assert flows.pans[plan, path] == sum(ceil(batch / pan) for batch in baked.tolist())
    assert flows.labelled[plan, path] == book.relabelled_by_age[days].sum()
    assert flows.sold_by_age[plan, :, path].tolist() == (
        book.sold_by_age[days].sum(axis=0).tolist()
    )
    assert flows.disposed[plan, path] == book.disposed[days].sum()
    assert flows.unmet[plan, path] == book.unmet[days].sum()
    assert flows.short_days[plan, path] == (book.unmet[days] > 0).sum()
    assert flows.opening[plan, path] == before
    assert flows.closing[plan, path] == book.closing[-1]


@pytest.mark.parametrize("store", [UNDAMAGED, OFTEN_CLOSED], ids=["sample days", "often closed"])
@pytest.mark.parametrize("line", TRUTH.lines[::2], ids=lambda line: line.name)
def test_two_years_of_a_line_to_the_unit(line: LineTruth, store: StoreTruth) -> None:
    """Daily targets, part credit and set batches, closed days, from an empty shelf."""
    plans, streams = plans_for(line), streams_of(line, store, 11)
    flows = kernel(line, store, plans, streams, None)
    for number, plan in enumerate(plans):
        for path in range(N_PATHS):
            book = book_of(line, store, plan, streams[:, :, path], None)
            assert_same(flows, number, path, book, line)
    # a comparison of nothing with nothing would prove nothing
    assert flows.unmet.any()
    assert flows.disposed.any()
    assert flows.labelled.any() == (line.settings.reduce_on_day is not None)


@pytest.mark.parametrize("name", ["Burger buns", "White loaf", "French bread"])
def test_smallest_and_largest_bakes(name: str) -> None:
    """No bake of less than three steps, nor of more than four to six, whatever is needed."""
    line = TRUTH.line(name)
    limited = [
        replace(plan, least=3, most=most)
        for plan, most in zip(plans_for(line), (4, 5, 6), strict=True)
    ]
    streams = streams_of(line, OFTEN_CLOSED, 4)
    flows = kernel(line, OFTEN_CLOSED, limited, streams, None)
    for number, plan in enumerate(limited):
        book = book_of(line, OFTEN_CLOSED, plan, streams[:, :, 0], None)
        assert_same(flows, number, 0, book, line)
    free = kernel(line, OFTEN_CLOSED, plans_for(line), streams, None)
    assert (flows.baked != free.baked).any(axis=(1, 2)).all()


@pytest.mark.parametrize("name", ["Burger buns", "White loaf", "Raisin loaf"])
def test_a_bake_waits_until_enough_is_needed(name: str) -> None:
    """As much as a day and more: with a top-up for all paths alike, and with part credit."""
    line = TRUTH.line(name)
    plans = plans_for(line)[:2]
    waiting = [replace(plan, need_from=int(1.2 * line.mean_units) + 1) for plan in plans]
    streams = streams_of(line, OFTEN_CLOSED, 6)
    flows = kernel(line, OFTEN_CLOSED, waiting, streams, None)
    for number, plan in enumerate(waiting):
        for path in range(N_PATHS):
            book = book_of(line, OFTEN_CLOSED, plan, streams[:, :, path], None)
            assert_same(flows, number, path, book, line)
    at_once = kernel(line, OFTEN_CLOSED, plans, streams, None)
    assert (flows.bakes.sum(axis=1) < at_once.bakes.sum(axis=1)).all()


@pytest.mark.parametrize("name", ["Bagels", "White loaf", "Burger buns"])
def test_opening_stock_of_every_age(name: str) -> None:
    """Two weeks that begin with stock on the shelf, in a store that is often closed."""
    line = TRUTH.line(name)
    plans = plans_for(line)
    opening = np.tile(np.arange(line.coded_life_days)[:, None] * 3, (1, N_PATHS))
    opening[1] += np.arange(N_PATHS)
    for first in (0, 9, 20, 41, 101):
        start = TRUTH.start + timedelta(days=first)
        streams = streams_of(line, OFTEN_CLOSED, 5)[:, first : first + 14]
        flows = kernel(line, OFTEN_CLOSED, plans, streams, opening, start=start)
        for number, plan in enumerate(plans):
            for path in range(N_PATHS):
                shoppers = streams[:, :, path]
                book = book_of(line, OFTEN_CLOSED, plan, shoppers, opening[:, path], start)
                assert_same(flows, number, path, book, line)


def test_days_before_the_first_counted_one_fill_the_shelf_and_no_more() -> None:
    line = TRUTH.line("White loaf")
    plans, streams = plans_for(line), streams_of(line, OFTEN_CLOSED, 3)
    for first_day in (1, 22, 43, 700):
        flows = kernel(line, OFTEN_CLOSED, plans, streams, None, first_day)
        book = book_of(line, OFTEN_CLOSED, plans[1], streams[:, :, 1], None)
        assert_same(flows, 1, 1, book, line, first_day)


@pytest.mark.parametrize("store", [UNDAMAGED, OFTEN_CLOSED], ids=["sample days", "often closed"])
def test_what_the_book_leaves_over_the_kernel_takes_up(store: StoreTruth) -> None:
    """A year of the book, then the kernel on its closing stock: the book's two years."""
    line, cut = TRUTH.line("Burger buns"), 364
    plan, streams = plans_for(line)[0], streams_of(line, store, 9)
    whole = book_of(line, store, plan, streams[:, :, 0], None)
    half = book_of(line, store, plan, streams[:, :cut, 0], None)
    assert half.closing_by_age.any()
    start = TRUTH.start + timedelta(days=cut)
    one = streams[:, cut:, :1]
    flows = kernel(line, store, [plan], one, half.closing_by_age[:, None], start=start)
    assert_same(flows, 0, 0, whole, line, cut)


def test_levels_of_their_own_for_every_path() -> None:
    """A level per path plays each path as if it were alone with its level."""
    line = TRUTH.line("White loaf")
    streams = streams_of(line, UNDAMAGED, 4)
    levels = np.random.default_rng(8).integers(10, 60, (1, N_DAYS, N_PATHS)).astype(np.int16)
    levels[:, 3::7] = NO_BAKE
    days = Days(np.arange(N_DAYS) % 7, np.ones(N_DAYS, bool))
    shelf = Shelf(line.coded_life_days, line.settings.reduce_on_day)
    both = simulate(streams, Policy(levels, np.full(1, 0.5)), shelf, days)
    for path in range(N_PATHS):
        one = slice(path, path + 1)
        alone = simulate(
            streams[:, :, one], Policy(levels[:, :, one], np.full(1, 0.5)), shelf, days
        )
        assert (both.sold_by_age[:, :, one] == alone.sold_by_age).all()
        assert (both.baked[:, :, one] == alone.baked).all()
        assert (both.disposed[:, one] == alone.disposed).all()
    assert (both.baked[:, :, 0] != both.baked[:, :, 1]).any()
