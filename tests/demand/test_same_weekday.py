"""The last days of each weekday as a demand: when they are taken, and what is drawn from them."""

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from shrinkwise.demand.model import DemandModel, fit_demand
from shrinkwise.demand.paths import StoreShocks
from shrinkwise.demand.same_weekday import SameWeekday, foresaw_better
from shrinkwise.records.reading import read_records

TURNED = "Kaiser rolls"
TURNED_DAYS = 7 * 17
N_PATHS = 4000
WEEKS = 40
DAYS = np.arange(7 * WEEKS)
ALL = np.ones(len(DAYS), np.bool_)
PAST = SameWeekday.of(10 * (DAYS % 7) + DAYS // 7, ALL, DAYS % 7)


@pytest.fixture(scope="module")
def turned(small_folder: Path) -> DemandModel:
    """A line that sold six times as much at weekends until, seventeen weeks ago, it was the other
    way round; there was always some of it left."""
    records = read_records(small_folder)
    own = pl.col("product") == TURNED
    weekend = pl.col("date").dt.weekday() > 5
    late = pl.col("date") > records.last_date - timedelta(days=TURNED_DAYS)
    turned = pl.when(weekend == late).then(4).otherwise(24) + pl.col("date").dt.day() % 3
    sales = records.sales.unique(["product", "date"], keep="first", maintain_order=True)
    sales = sales.with_columns(units=pl.when(own).then(turned).otherwise("units").cast(pl.Int64))
    bakes = sales.filter(own).select(records.bakes.columns).with_columns(pl.col("units") + 5)
    return fit_demand(
        replace(
            records,
            sales=sales,
            bakes=pl.concat([records.bakes.filter(~own), bakes]),
            disposals=records.disposals.filter(~own),
        )
    )


def test_a_line_whose_week_turned_over_is_foreseen_by_its_last_days(turned: DemandModel) -> None:
    """As nothing in the calendar turned with it."""
    assert [name for name, line in turned.lines.items() if line.recent is not None] == [TURNED]
    ahead = [turned.calendar.origin + timedelta(days=day) for day in range(1, 8)]
    paths = turned.paths(ahead[0], 7, N_PATHS, seed=1)
    expected = turned.expected(TURNED, ahead)
    sold = turned.ledgers[TURNED].sold[-56:].reshape(8, 7)
    assert expected == pytest.approx(sold.mean(axis=0))
    assert paths.means[TURNED][:, 0] == pytest.approx(expected)
    assert paths.units[TURNED].mean(axis=1) == pytest.approx(expected, rel=0.02)
    assert (paths.units[TURNED] >= sold.min(axis=0)[:, None]).all()


def test_the_past_stays_what_was_fitted(turned: DemandModel) -> None:
    past = [turned.calendar.origin - timedelta(days=day) for day in range(200, 207)]
    without = replace(turned.lines[TURNED], recent=None)
    plain = replace(turned, lines=turned.lines | {TURNED: without})
    assert turned.expected(TURNED, past) == pytest.approx(plain.expected(TURNED, past))


def judged(mean: float, alpha: float, sold: np.ndarray, floor: np.ndarray | None = None) -> bool:
    late = DAYS[7 * (WEEKS - 26) :]
    out = ~ALL if floor is None else floor
    filled = (np.full(len(late), value) for value in (mean, alpha))
    return foresaw_better(sold, out, ALL, late, *filled)


def test_a_model_is_left_only_where_it_was_clearly_worse() -> None:
    rng = np.random.default_rng(4)
    sold = rng.poisson(12.0, len(DAYS))
    assert not judged(12.0, 1e-4, sold)
    assert not judged(12.5, 0.02, sold)
    assert judged(24.0, 1e-4, sold)
    assert judged(6.0, 1e-4, sold)


def test_sales_of_a_line_that_often_sells_out_are_no_demand() -> None:
    sold = np.minimum(np.random.default_rng(4).poisson(12.0, len(DAYS)), 12)
    assert judged(24.0, 1e-4, sold)
    assert (sold == 12).mean() > 0.4
    assert not judged(24.0, 1e-4, sold, sold == 12)


def test_draws_are_the_past_days_and_what_lies_between() -> None:
    rng = np.random.default_rng(5)
    none = np.zeros((7, N_PATHS))
    shocks = StoreShocks(none, rng.standard_normal((7, N_PATHS)), 0.001)
    units, rate, mean = PAST.drawn(np.arange(7), none, shocks, rng)
    last = 10 * np.arange(7)[:, None] + np.arange(WEEKS - 8, WEEKS)
    assert mean == pytest.approx(np.repeat(last.mean(axis=1)[:, None], N_PATHS, axis=1))
    assert (units.min(axis=1) >= last.min(axis=1)).all()
    assert (units.max(axis=1) <= last.max(axis=1)).all()
    for level in (0.1, 0.5, 0.9):
        assert np.quantile(rate, level, axis=1) == pytest.approx(
            np.quantile(last, level, axis=1), abs=0.3
        )
    # a good day for the store is one for the line
    together = np.corrcoef(rate[6], shocks.day[6])[0, 1]
    assert together > 0.3
    assert units.mean() == pytest.approx(rate.mean(), rel=1e-3)


def test_a_weekday_that_never_was_open_takes_all_days() -> None:
    open_days = DAYS % 7 != 2
    past = SameWeekday.of(np.where(open_days, 5, 0), open_days, DAYS % 7)
    assert past.units[2].tolist() == [5] * 48
