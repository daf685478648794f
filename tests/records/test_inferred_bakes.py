"""What sales and disposals alone say of the bakes, by hand. The weeks begin on a Monday."""

from datetime import date

import numpy as np
import polars as pl
import pytest

from shrinkwise.profile.line import Line
from shrinkwise.records.inferred_bakes import (
    bake_weekdays,
    inferred_bakes,
    seen_bakes,
    stock_bounds,
)
from shrinkwise.sample.logs import play_store
from shrinkwise.sample.truth import TRUTH

NONE = np.zeros(7, np.int64)
EVERY_DAY = np.ones(7, np.bool_)
LINE = Line(
    name="Rye", category="breads", price=4, dough_cost=1, shelf_life_days=3, reduce_on_day=2,
    reduced_price=2,
)  # fmt: skip


def units(*numbers: int) -> np.ndarray:
    return np.array(numbers, np.int64)


def test_thrown_units_were_on_the_shelf_for_their_whole_life() -> None:
    """Life 3: the 2 of Thursday night were baked on Tuesday, the 1 of Saturday on Thursday.

    Most: on Monday night all that left until Wednesday may have been there: 4 + 6 + 1 sold or
    damaged on Tuesday and Wednesday, and nothing thrown. On Tuesday night 6 + 1 + 3 + 2 thrown.
    """
    bounds = stock_bounds(
        sold=units(5, 4, 6, 3, 2, 4, 5),
        sold_reduced=NONE,
        disposed_early=units(0, 0, 1, 0, 0, 0, 0),
        disposed_last_day=units(0, 0, 0, 2, 0, 1, 0),
        life=3,
        reduce_on_day=None,
    )
    assert bounds.least.tolist() == [0, 2, 2, 2 + 1, 1, 1, 0]
    assert bounds.most.tolist()[:3] == [4 + 7, 7 + 3 + 2, 3 + 2 + 2]
    # the stock of the last two days has not been seen to its end
    assert bounds.most.tolist()[-2:] == [-1, -1]
    assert (bounds.most[:-2] >= bounds.least[:-2]).all()


def test_units_sold_reduced_had_been_there_the_day_before() -> None:
    """Reduced from day 2 of 3: sold so on Thursday, they were there on Wednesday night at least."""
    bounds = stock_bounds(
        sold=units(5, 4, 6, 3, 2, 4, 5),
        sold_reduced=units(0, 0, 0, 3, 0, 0, 0),
        disposed_early=NONE,
        disposed_last_day=NONE,
        life=3,
        reduce_on_day=2,
    )
    assert bounds.least.tolist() == [0, 0, 3, 0, 0, 0, 0]
    from_third = stock_bounds(
        units(5, 4, 6, 3, 2, 4, 5), units(0, 0, 0, 3, 0, 0, 0), NONE, NONE, 3, 3
    )
    assert from_third.least.tolist() == [0, 3, 3, 0, 0, 0, 0]


def test_with_a_life_of_one_day_the_bounds_meet() -> None:
    bounds = stock_bounds(units(5, 4), units(0, 0), units(0, 1), units(2, 0), 1, None)
    assert bounds.least.tolist() == bounds.most.tolist() == [2, 0]


def test_the_bounds_hold_the_true_stock_of_every_line_and_day() -> None:
    for name, book in play_store().items():
        line = TRUTH.line(name).settings
        reduce_age = (line.reduce_on_day or line.shelf_life_days + 1) - 1
        bounds = stock_bounds(
            book.sold_by_age.sum(axis=1),
            book.sold_by_age[:, reduce_age:].sum(axis=1),
            book.damaged_by_age.sum(axis=1),
            book.disposed,
            line.shelf_life_days,
            line.reduce_on_day,
        )
        at_close = book.closing + book.disposed
        known = bounds.most >= 0
        assert (bounds.least <= at_close).all(), name
        assert (at_close <= bounds.most)[known].all(), name
        assert not (book.sold_out & (bounds.least > 0)).any(), name


def test_every_unit_was_baked_on_the_last_bake_day_before_it_left() -> None:
    """Baked on Monday and Thursday, life 3: Wednesday's sales are Monday's, Sunday's nobody's."""
    monday_thursday = np.isin(np.arange(7), (0, 3))
    baked = inferred_bakes(
        units(5, 4, 6, 3, 2, 4, 5), units(0, 0, 1, 0, 0, 0, 0), units(0, 0, 2, 0, 0, 1, 0), 3,
        monday_thursday,
    )  # fmt: skip
    assert baked.tolist() == [5 + 4 + 7 + 2, 0, 0, 3 + 2 + 4 + 1, 0, 0, 5]


def test_a_return_bakes_nothing() -> None:
    assert inferred_bakes(units(5, -1), units(0, 0), units(0, 0), 2, EVERY_DAY[:2]).tolist() == [
        5,
        0,
    ]


@pytest.mark.parametrize(
    ("monday", "others", "bake_days"),
    [
        # (20/21)^61 = 0.051, so with 61 batches none on a Monday may still be chance
        (0, 61, (0, 1, 2, 3, 4)),
        # (20/21)^62 = 0.049
        (0, 62, (1, 2, 3, 4)),
        # one wrong date: of n batches at most one by chance with (20/21)^n (1 + n/20), which is
        # 0.066 for 91 and 0.044 for 101
        (1, 90, (0, 1, 2, 3, 4)),
        (1, 100, (1, 2, 3, 4)),
    ],
)
def test_a_weekday_from_which_no_batch_is_seen_is_no_bake_day(
    monday: int, others: int, bake_days: tuple[int, ...]
) -> None:
    weekday = np.arange(7 * 52) % 7
    seen = np.zeros(len(weekday), np.bool_)
    seen[np.flatnonzero(weekday == 0)[:monday]] = True
    seen[np.flatnonzero(np.isin(weekday, (1, 2, 3, 4)))[:others]] = True
    is_open = weekday < 5
    assert bake_weekdays(seen, is_open, weekday) == bake_days


def test_bake_dates_are_taken_where_they_are_given_and_told_from_age_elsewhere() -> None:
    def rows(*pairs: tuple[int, int | None]) -> pl.DataFrame:
        return pl.DataFrame(
            [
                (date(2026, 3, day), None if baked is None else date(2026, 3, baked), 1)
                for day, baked in pairs
            ],
            schema={"date": pl.Date, "bake_date": pl.Date, "units": pl.Int64},
            orient="row",
        )

    seen = seen_bakes(
        disposed_last_day=rows((9, None), (9, 6)),
        disposed_early=rows((9, None), (9, 8)),
        markdowns=rows((9, None), (10, 4)),
        line=LINE,
    )
    assert seen is not None
    # life 3: the 9th less 2 days; reduced on day 2: the 9th less 1; early and undated: unknown
    assert [day.day for day in seen["date"]] == [7, 6, 8, 8, 4]
    assert seen_bakes(None, None, None, LINE) is None
