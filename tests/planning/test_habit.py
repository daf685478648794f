"""A habit read from a ledger that is written by hand."""

from datetime import date
from types import SimpleNamespace

import numpy as np
import pytest

from shrinkwise.planning.habit import present_habit
from shrinkwise.profile.line import Line
from shrinkwise.records.ledger import LineLedger

N_DAYS = 26 * 7
MONDAY = date(2026, 1, 5)
LINE = Line(name="Rye", category="breads", price=4, dough_cost=1, shelf_life_days=2)


def ledger(on_hand: np.ndarray, baked: np.ndarray) -> LineLedger:
    nothing = np.zeros(N_DAYS, np.int64)
    return LineLedger(
        line=LINE,
        start=MONDAY,
        is_open=np.ones(N_DAYS, np.bool_),
        baked=baked,
        sold=np.full(N_DAYS, 10),
        sold_reduced=nothing,
        labelled=nothing,
        disposed_last_day=nothing,
        disposed_early=nothing,
        on_hand_open=on_hand,
        on_hand_close=nothing,
        sold_out=np.zeros(N_DAYS, np.bool_),
        unexplained=nothing,
        bakes_inferred=False,
    )


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
    assert habit.multiples[0] == pytest.approx(np.full(8, 1.4))
    assert sorted(habit.multiples[1]) == pytest.approx([1.3, *[1.4] * 7])
    assert not habit.inferred


def test_a_set_batch_is_read_as_one() -> None:
    on_hand = np.resize([0, 2, 5, 1, 3, 4, 6, 7, 3, 2], N_DAYS)
    baked = np.where(np.arange(N_DAYS) % 7 < 3, 24, 0)
    demand = SimpleNamespace(expected=lambda name, dates: np.full(len(dates), 10.0))
    habit = present_habit(ledger(on_hand, baked), demand, None)  # type: ignore[arg-type]
    assert habit.bake_days == (0, 1, 2)
    assert habit.credit == 0.0
    # Monday and Tuesday cover one day, Wednesday as much as the shelf life of two days
    assert habit.multiples[1] == pytest.approx(np.full(8, 2.4))
    assert habit.multiples[2] == pytest.approx(np.full(8, 1.2))
