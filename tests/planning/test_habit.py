"""A habit read from a ledger that is written by hand."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from ledgers import ledger_of

from shrinkwise.engine.policy import Days
from shrinkwise.planning.futures import Futures
from shrinkwise.planning.habit import habit_policy, present_habit
from shrinkwise.profile.line import Line
from shrinkwise.records.ledger import LineLedger

N_DAYS = 26 * 7
LINE = Line(name="Rye", category="breads", price=4, dough_cost=1, shelf_life_days=2)


def ledger(on_hand: np.ndarray, baked: np.ndarray) -> LineLedger:
    return ledger_of(LINE, N_DAYS, baked=baked, sold=10, on_hand_open=on_hand)


def test_a_top_up_to_14_is_read_as_one() -> None:
    """Demand 10 a day, baked daily: a level of 14 is 1.4 times the need, all stock credited.

    On Tuesdays the shelf often holds more than the level, so nothing is baked: such a day shows
    only that the level was no higher than the stock, and counts as the usual level. On one of
    them 13 units were enough: there the level was at most 13.
    """
    on_hand = np.resize([0, 2, 5, 1, 3, 4, 6, 7, 3, 2], N_DAYS)
    baked = 14 - on_hand
    tuesdays = np.arange(1, N_DAYS, 7)
    full = tuesdays[-8::2]
    on_hand[full], baked[full] = 20, 0
    on_hand[full[0]] = 13
    demand = SimpleNamespace(expected=lambda name, dates: np.full(len(dates), 10.0))
    habit = present_habit(ledger(on_hand, baked), demand, None)  # type: ignore[arg-type]
    assert habit.bake_days == (0, 1, 2, 3, 4, 5, 6)
    assert habit.credit == pytest.approx(1.0)
    assert habit.multiples[0][0] == pytest.approx(np.full(26, 1.4))
    assert sorted(habit.multiples[1][0]) == pytest.approx([1.3, *[1.4] * 25])
    assert not habit.inferred


def test_a_set_batch_is_read_as_one() -> None:
    on_hand = np.resize([0, 2, 5, 1, 3, 4, 6, 7, 3, 2], N_DAYS)
    baked = np.where(np.arange(N_DAYS) % 7 < 3, 24, 0)
    demand = SimpleNamespace(expected=lambda name, dates: np.full(len(dates), 10.0))
    habit = present_habit(ledger(on_hand, baked), demand, None)  # type: ignore[arg-type]
    assert habit.bake_days == (0, 1, 2)
    assert habit.credit == 0.0
    # Monday and Tuesday cover one day, Wednesday as much as the shelf life of two days
    assert habit.multiples[1][0] == pytest.approx(np.full(26, 2.4))
    assert habit.multiples[2][0] == pytest.approx(np.full(26, 1.2))


def test_a_bake_for_a_single_order_is_no_habit() -> None:
    on_hand, baked = np.zeros(N_DAYS, np.int64), np.full(N_DAYS, 14)
    order = N_DAYS - 10
    baked[order] = 300
    seen = ledger(on_hand, baked)
    seen.sold[order] = 296
    demand = SimpleNamespace(expected=lambda name, dates: np.full(len(dates), 10.0))
    habit = present_habit(seen, demand, None)  # type: ignore[arg-type]
    assert max(float(levels.max()) for levels in habit.multiples.values()) == pytest.approx(1.4)


def test_without_bakes_each_reading_is_the_top_up_that_leaves_as_much_as_was_logged() -> None:
    """Ten a day wanted, life 2, and 3 thrown every other night: 3 of 20 sold.

    Where all take the freshest, a top-up to 13 does that: 3 are left of the first day's 13, and
    thrown on the second, when only 10 are added. Where all take the oldest, it takes one to 23:
    13 are left, of which 10 are sold the next day and 3 thrown.
    """
    n_days = 40
    logged = np.tile([0, 3], N_DAYS // 2)
    unlogged = replace(
        ledger(np.zeros(N_DAYS, np.int64), np.zeros(N_DAYS, np.int64)),
        disposed_last_day=logged,
        bakes_inferred=True,
    )
    streams = np.zeros((2, n_days, 2), np.int16)
    # the first path takes the oldest, the second the freshest
    streams[0, :, 0] = streams[1, :, 1] = 10
    days = Days(np.arange(n_days) % 7, np.ones(n_days, np.bool_), 14)
    futures = Futures(streams, np.full((n_days, 2), 10.0), days)
    demand = SimpleNamespace(lines={"Rye": SimpleNamespace(reconstructions=(None, None))})
    habit = present_habit(unlogged, demand, futures)  # type: ignore[arg-type]
    assert habit.inferred
    assert habit.credit == 1.0
    assert habit.bake_days == (0, 1, 2, 3, 4, 5, 6)
    assert habit.multiples[3] == pytest.approx(np.array([[2.3], [1.3]]))
    levels = habit_policy(habit, LINE, futures, seed=1).levels[0]
    # the last day of the 40 looks ahead as far as there are days
    assert set(levels[:-1, 0]) == {23}
    assert set(levels[:-1, 1]) == {13}
