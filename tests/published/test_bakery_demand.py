"""The demand model on the open data of real bakeries, a week ahead (`bakeries.py` says whose)."""

from datetime import timedelta

import numpy as np
import polars as pl
import pytest
from bakeries import LAST_MONDAY, bakeries, totals_inside, weeks_ahead

from shrinkwise.demand.scoring import coverage, weighted_quantile_loss

STORES, WEEKS = 6, 3


@pytest.fixture(scope="module")
def predicted() -> pl.DataFrame:
    """The first stores, a week each of winter, spring and Easter."""
    back = (14, 7, 0)
    mondays = [LAST_MONDAY - timedelta(weeks=weeks) for weeks in back]
    return pl.concat(weeks_ahead(bakeries(STORES), mondays))


def test_it_is_a_sixth_better_than_the_same_weekday_at_least(predicted: pl.DataFrame) -> None:
    """On all 25 stores and 26 weeks it is a fifth; `tests/bench` has the table."""
    units = predicted["units"].to_numpy()
    model, rule = (np.array(predicted[name].to_list()) for name in ("model", "same_weekday"))
    ours, theirs = weighted_quantile_loss(units, model), weighted_quantile_loss(units, rule)
    print(f"\nloss {ours:.4f}, same weekday {theirs:.4f}; 80% holds {coverage(units, model):.3f}")
    assert predicted.height > 6 * 3 * 7 * WEEKS * 0.75
    assert ours < 5 / 6 * theirs
    assert 0.72 < coverage(units, model) < 0.92


def test_quantiles_rise_and_no_line_is_left_out(predicted: pl.DataFrame) -> None:
    model = np.array(predicted["model"].to_list())
    assert (np.diff(model, axis=1) >= 0).all()
    assert predicted.select("store", "product").unique().height == STORES * 3


def test_totals_of_a_store_are_wider_than_those_of_lines_that_share_nothing() -> None:
    """On all 25 stores and 26 weeks: see `tests/bench/test_demand_backtest.py`."""
    back = (14, 7, 0)
    inside = pl.concat(
        totals_inside(bakeries(STORES), LAST_MONDAY - timedelta(weeks=weeks), {}) for weeks in back
    )
    shared, apart = inside["shared"].mean(), inside["apart"].mean()
    print(f"\n80% of a store's total holds {shared:.3f}, without what lines share {apart:.3f}")
    assert 0.7 < shared < 0.95
    assert apart < shared
