"""How well the demand of real bakeries is foreseen: 25 stores, 3 lines, the last 26 weeks.

Run with `--benchmark-enable -s`: tables by line, by month and by week ahead are printed. Without
it, two stores and one week stand for all.
"""

from datetime import date, timedelta

import numpy as np
import polars as pl
from bakeries import (
    LAST_MONDAY,
    N_PATHS,
    Bakery,
    bakeries,
    fitted_before,
    totals_inside,
    weeks_ahead,
)
from pytest_benchmark.fixture import BenchmarkFixture

from shrinkwise.demand.line import LineDemand
from shrinkwise.demand.scoring import coverage, path_quantiles, weighted_quantile_loss

WEEKS, BRIEF_WEEKS, BRIEF_STORES = 26, 1, 2
MOST_LOSS, LEAST_INSIDE, MOST_INSIDE = 0.1090, 0.77, 0.85
FAR_ORIGINS = (date(2017, 10, 30), date(2018, 1, 29), date(2018, 4, 30), date(2018, 7, 30))
FAR_WEEKS, FEWEST_OPEN = 13, 4


def mondays(weeks: int) -> list[date]:
    return [LAST_MONDAY - timedelta(weeks=back) for back in range(weeks - 1, -1, -1)]


def test_week_ahead_all_stores_together(benchmark: BenchmarkFixture) -> None:
    stores = bakeries(None if benchmark.enabled else BRIEF_STORES)
    weeks = WEEKS if benchmark.enabled else BRIEF_WEEKS
    predicted = benchmark.pedantic(
        lambda: pl.concat(weeks_ahead(stores, mondays(weeks))), rounds=1, iterations=1
    )
    scores = _table(predicted)
    if weeks == WEEKS:
        assert scores["loss"] <= MOST_LOSS
        assert LEAST_INSIDE <= scores["in_80"] <= MOST_INSIDE


def test_week_ahead_each_store_by_itself(benchmark: BenchmarkFixture) -> None:
    """As `fit_demand` does it: a store knows nothing of the others."""
    stores = bakeries(None if benchmark.enabled else BRIEF_STORES)
    weeks = WEEKS if benchmark.enabled else BRIEF_WEEKS
    predicted = benchmark.pedantic(
        lambda: pl.concat(
            week for store in stores for week in weeks_ahead([store], mondays(weeks)) if week.height
        ),
        rounds=1,
        iterations=1,
    )
    scores = _table(predicted)
    if weeks == WEEKS:
        assert scores["loss"] <= MOST_LOSS
        assert LEAST_INSIDE <= scores["in_80"] <= MOST_INSIDE


def test_totals_of_a_store(benchmark: BenchmarkFixture) -> None:
    """Share of days on which what a store sold of all three lines together lies in its 80%
    interval: with the shock that they share on a day, and drawn as if nothing were shared."""
    stores = bakeries(None if benchmark.enabled else BRIEF_STORES)
    origins = mondays(WEEKS if benchmark.enabled else BRIEF_WEEKS)
    near: dict[tuple[str, str], LineDemand] = {}
    inside = benchmark.pedantic(
        lambda: pl.concat(totals_inside(stores, monday, near) for monday in origins),
        rounds=1,
        iterations=1,
    )
    _print(inside.select(pl.len(), pl.col("shared", "apart").mean()))
    if benchmark.enabled:
        assert LEAST_INSIDE <= inside["shared"].mean() <= MOST_INSIDE
        assert inside["apart"].mean() < inside["shared"].mean()


def test_thirteen_weeks_ahead(benchmark: BenchmarkFixture) -> None:
    """Share of days, and of sums of a week, within their 80% intervals, by weeks ahead."""
    stores = bakeries(None if benchmark.enabled else BRIEF_STORES)
    origins = FAR_ORIGINS if benchmark.enabled else FAR_ORIGINS[:1]
    inside = benchmark.pedantic(
        lambda: pl.concat(_far(stores, monday) for monday in origins), rounds=1, iterations=1
    )
    by_week = inside.group_by("week").agg(
        pl.col("days_in_80").mean(), pl.col("sum_in_80").mean(),
        (pl.col("sum_error") ** 2).mean().sqrt(), pl.col("sum_spread").mean(),
    ).sort("week")  # fmt: skip
    _print(by_week)
    if benchmark.enabled:
        assert by_week["days_in_80"].is_between(0.75, 0.88).all()


def _far(stores: list[Bakery], monday: date) -> pl.DataFrame:
    rows = []
    for store, model in fitted_before(stores, monday, {}):
        paths = model.paths(monday, 7 * FAR_WEEKS, N_PATHS, seed=1)
        end = (monday - store.dates[0]).days
        for name, units in paths.units.items():
            sold = store.units[store.lines.index(name), end : end + 7 * FAR_WEEKS]
            for week in range(FAR_WEEKS):
                days = np.arange(7 * week, 7 * week + 7)
                days = days[store.is_open[end + days]]
                if len(days) < FEWEST_OPEN:
                    continue
                sums, true = units[days].sum(axis=0, dtype=np.int64), sold[days].sum()
                low, high = np.quantile(sums, (0.1, 0.9))
                days_in_80 = coverage(sold[days], path_quantiles(units[days]))
                error = float(np.log(max(true, 1) / sums.mean()))
                rows.append(
                    (
                        week + 1,
                        days_in_80,
                        bool(low <= true <= high),
                        error,
                        sums.std() / sums.mean(),
                    )
                )
    columns = ["week", "days_in_80", "sum_in_80", "sum_error", "sum_spread"]
    return pl.DataFrame(rows, schema=columns, orient="row")


def _table(predicted: pl.DataFrame) -> dict[str, float]:
    """Print the scores of all, of each line and of each month; those of all are returned."""
    dated = predicted.with_columns(month=predicted["date"].dt.strftime("%Y-%m"))
    everything = _scores("all", predicted)
    scores = [everything]
    for column in ("product", "month"):
        scores += [
            _scores(str(key[0]), part)
            for key, part in sorted(dated.partition_by(column, as_dict=True).items())
        ]
    _print(pl.DataFrame(scores))
    return {name: float(value) for name, value in everything.items() if name != "part"}


def _print(table: pl.DataFrame) -> None:
    with pl.Config(tbl_rows=-1, tbl_cols=-1, float_precision=4, tbl_hide_dataframe_shape=True):
        print(f"\n{table}")


def _scores(part: str, predicted: pl.DataFrame) -> dict[str, str | float]:
    units = predicted["units"].to_numpy()
    found: dict[str, str | float] = {"part": part, "days": predicted.height}
    for name, ending in (("model", ""), ("same_weekday", "_same_weekday")):
        quantiles = np.array(predicted[name].to_list())
        seen = ~np.isnan(quantiles).any(axis=1)
        found[f"loss{ending}"] = weighted_quantile_loss(units[seen], quantiles[seen])
        found[f"in_80{ending}"] = coverage(units[seen], quantiles[seen])
    return found
