"""The played days: the order of a day, nothing appears or vanishes, the habit goes on."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from numpy.typing import NDArray

from shrinkwise.sample.line_truth import EVERY_DAY, Habit, LineTruth, OtherKinds
from shrinkwise.sample.logs import play_store
from shrinkwise.sample.shoppers import Shoppers, drawn_shoppers
from shrinkwise.sample.store_days import DayBook, play, play_days
from shrinkwise.sample.truth import TRUTH, day_range, demand_paths, mean_demand

Units = list[int] | NDArray[np.int64]
UNDAMAGED = replace(TRUTH, damage_rate=0.0, donated_share=0.0)
MONDAY = date(2026, 3, 2)


@pytest.fixture(scope="module")
def books() -> dict[str, DayBook]:
    return play_store(1)


def played(
    line: LineTruth,
    oldest: Units,
    freshest: Units,
    batches: list[int],
    start: date = MONDAY,
    opening: Units | None = None,
) -> DayBook:
    return play_days(
        line,
        Shoppers.plain(np.array(oldest), np.array(freshest)),
        start,
        None if opening is None else np.array(opening),
        lambda day, on_hand: batches[day],
        np.random.default_rng(0),
        UNDAMAGED,
    )


def test_shoppers_take_from_their_end_and_the_last_day_is_disposed_of() -> None:
    book = played(TRUTH.line("Bagels"), [2, 3, 0], [1, 2, 1], [10, 4, 0])
    # Monday 10 - 3 = 7; Tuesday oldest take 3 of the 7, freshest 2 of the new 4
    assert book.sold_by_age.tolist() == [[3, 0, 0], [2, 3, 0], [0, 1, 0]]
    # Wednesday morning the first batch of 4 reaches day 3, the day of reduction
    assert book.relabelled_by_age.tolist() == [[0, 0, 0], [0, 0, 0], [0, 0, 4]]
    assert book.disposed.tolist() == [0, 0, 4]
    assert book.closing.tolist() == [7, 6, 1]
    assert book.closing_by_age.tolist() == [0, 0, 1]
    assert not book.sold_out.any()


def test_what_is_not_there_is_lost() -> None:
    book = played(TRUTH.line("Bagels"), [4, 0], [3, 1], [5, 0])
    assert book.unmet.tolist() == [2, 1]
    assert book.sold_out.tolist() == [True, True]
    assert not book.disposed.any()


def test_a_life_of_one_day_leaves_nothing_overnight() -> None:
    book = played(TRUTH.line("French bread"), [5, 9], [0, 0], [8, 8])
    assert book.disposed.tolist() == [3, 0]
    assert book.closing.tolist() == [0, 0]
    assert book.sold_out.tolist() == [False, True]


def test_on_a_closed_day_units_only_grow_old() -> None:
    sunday = TRUTH.sudden_closures[0] - timedelta(days=1)
    book = played(TRUTH.line("Bagels"), [0, 0, 1], [0, 0, 0], [5, 5, 0], sunday, [0, 4, 2])
    assert book.baked.tolist() == [5, 0, 0]
    # the 2 of age 2 go on Sunday, the 4 on the closed Monday without having been relabelled
    assert book.disposed.tolist() == [2, 4, 4]
    assert book.relabelled_by_age[:, 2].tolist() == [2, 0, 5]
    assert not book.sold_by_age[1].any()
    assert not book.sold_out[1]


def test_relabelling_that_fell_on_a_closed_day_is_made_up_for() -> None:
    sunday = TRUTH.sudden_closures[0] - timedelta(days=1)
    book = played(TRUTH.line("Cinnamon rolls"), [0] * 3, [0] * 3, [0] * 3, sunday, [0, 6, 0, 0])
    assert book.relabelled_by_age.sum(axis=1).tolist() == [0, 0, 6]


def test_the_habit_tops_up_towards_what_is_expected_until_the_next_bake() -> None:
    habit = Habit(bake_weekdays=(0, 3), factor=1.0, credit=1.0, noise=0.0)
    line = replace(
        TRUTH.line("White loaf"),
        habit=habit, season=(0.0,) * 4, trend_per_year=0.0,
        price_change=None, weekday_shape=(1.0,) * 7, mean_units=10.0,
    )  # fmt: skip
    book = play(line, np.full(7, 4), MONDAY, None, np.random.default_rng(0), UNDAMAGED)
    # Monday covers three days; Thursday four, less the 18 that are left
    assert book.baked.tolist() == [30, 0, 0, 40 - 18, 0, 0, 0]


def test_units_neither_appear_nor_vanish(books: dict[str, DayBook]) -> None:
    for name, book in books.items():
        left = np.concatenate([[book.opening_by_age.sum()], book.closing[:-1]])
        gone = book.sold_by_age.sum(axis=1) + book.damaged_by_age.sum(axis=1) + book.disposed
        assert (left + book.baked == gone + book.closing).all(), name
        assert book.closing_by_age.sum() == book.closing[-1]
        assert not book.sold_by_age[[not TRUTH.is_open(day) for day in TRUTH.days]].any()


def test_sold_out_days_are_those_on_which_the_demand_could_have_been_higher(
    books: dict[str, DayBook],
) -> None:
    for book in books.values():
        assert book.sold_out[book.unmet > 0].all()
        assert not book.closing[book.sold_out].any()


def test_damage_is_rare(books: dict[str, DayBook]) -> None:
    damaged = sum(int(book.damaged_by_age.sum()) for book in books.values())
    baked = sum(int(book.baked.sum()) for book in books.values())
    assert 0.001 < damaged / baked < 0.004


def test_the_habit_goes_on_where_the_logs_end(books: dict[str, DayBook]) -> None:
    start = TRUTH.end + timedelta(days=1)
    for line in TRUTH.lines:
        rng = np.random.default_rng(3)
        demand = demand_paths(line, start, 91, 1, rng)[:, 0]
        opening = books[line.name].closing_by_age
        book = play(line, demand, start, opening, rng)
        sold, damaged = book.sold_by_age.sum(), book.damaged_by_age.sum()
        assert opening.sum() + book.baked.sum() == (
            sold + damaged + book.disposed.sum() + book.closing[-1]
        )
        assert sold + book.unmet.sum() == demand.sum()
        closed = (date(2026, 11, 26) - start).days
        assert book.baked[closed] == 0


def test_two_parts_played_in_a_row_are_the_whole() -> None:
    line = replace(TRUTH.line("Bagels"), habit=Habit(EVERY_DAY, 1.2, 0.7, 0.0))
    rng = np.random.default_rng(9)
    oldest, freshest = rng.poisson(8, (2, 20))
    batches = [int(units) for units in rng.poisson(18, 20)]
    whole = played(line, oldest, freshest, batches)
    first = played(line, oldest[:8], freshest[:8], batches)
    rest = played(
        line, oldest[8:], freshest[8:], batches[8:], MONDAY + timedelta(days=8),
        first.closing_by_age,
    )  # fmt: skip
    for field in ("baked", "unmet", "disposed", "closing", "sold_by_age", "relabelled_by_age"):
        joined = np.concatenate([getattr(first, field), getattr(rest, field)])
        assert (joined == getattr(whole, field)).all(), field


def test_other_kinds_of_shoppers_take_what_they_came_for() -> None:
    """Bagels last three days, reduced on the third; fussy shoppers take those of the day alone."""
    line = replace(TRUTH.line("Bagels"), kinds=OtherKinds(fussy_until_day=1))
    days = ([0, 0, 1], [0, 0, 0], [2, 1, 0], [1, 0, 2], [1, 1, 3])
    book = play_days(
        line,
        Shoppers(*(np.array(units) for units in days)),
        MONDAY,
        None,
        lambda day, on_hand: [8, 0, 2][day],
        np.random.default_rng(0),
        UNDAMAGED,
    )
    # nothing is reduced before Wednesday: who would switch takes the freshest, and who comes for
    # a bargain goes without and is not missed; on Tuesday the fussy one finds nothing of the day
    assert book.sold_by_age.tolist() == [[3, 0, 0], [0, 0, 0], [0, 0, 5]]
    assert book.unmet.tolist() == [0, 1, 0]


def test_shoppers_are_drawn_by_their_shares_of_all_demand() -> None:
    kinds = OtherKinds(0.2, 1, 0.1, 0.5)
    line = replace(TRUTH.line("Bagels"), kinds=kinds)
    demand = np.full(2000, 20)
    drawn = drawn_shoppers(line, demand, MONDAY, np.random.default_rng(1), UNDAMAGED)
    ordinary = drawn.oldest + drawn.freshest + drawn.fussy + drawn.switching
    assert (ordinary == demand).all()
    assert drawn.fussy.mean() / 20 == pytest.approx(0.2, abs=4 * np.sqrt(0.16 / 40000))
    assert drawn.switching.mean() / 20 == pytest.approx(0.1, abs=4 * np.sqrt(0.09 / 40000))
    mean = mean_demand(line, day_range(MONDAY, 2000), UNDAMAGED).mean()
    assert drawn.bargain.mean() == pytest.approx(0.5 * mean, abs=4 * np.sqrt(0.5 * mean / 2000))
