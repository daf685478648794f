"""How well the demand of real bakeries is foreseen: 25 stores, 3 lines, the last 26 weeks.

Run with `--benchmark-enable -s`: tables by line and by month are printed. Without it, the last two
weeks alone.
"""

from datetime import timedelta

import numpy as np
import polars as pl
from bakeries import LAST_MONDAY, bakeries, weeks_ahead
from pytest_benchmark.fixture import BenchmarkFixture

from shrinkwise.demand.scoring import coverage, weighted_quantile_loss

WEEKS, BRIEF_WEEKS = 26, 1
MOST_LOSS, LEAST_INSIDE, MOST_INSIDE = 0.1090, 0.77, 0.85


def test_week_ahead_on_all_stores(benchmark: BenchmarkFixture) -> None:
    weeks = WEEKS if benchmark.enabled else BRIEF_WEEKS
    mondays = [LAST_MONDAY - timedelta(weeks=back) for back in range(weeks - 1, -1, -1)]
    predicted = benchmark.pedantic(
        lambda: pl.concat(weeks_ahead(bakeries(), mondays)), rounds=1, iterations=1
    )
    dated = predicted.with_columns(month=predicted["date"].dt.strftime("%Y-%m"))
    scores = [_scores("all", predicted)]
    for column in ("product", "month"):
        scores += [
            _scores(str(key[0]), part)
            for key, part in sorted(dated.partition_by(column, as_dict=True).items())
        ]
    table = pl.DataFrame(scores)
    with pl.Config(tbl_rows=-1, float_precision=4, tbl_hide_dataframe_shape=True):
        print(f"\n{table}")
    benchmark.extra_info["loss"], benchmark.extra_info["in_80"] = (
        scores[0]["loss"],
        scores[0]["in_80"],
    )
    if weeks == WEEKS:
        assert scores[0]["loss"] <= MOST_LOSS
        assert LEAST_INSIDE <= scores[0]["in_80"] <= MOST_INSIDE


def _scores(part: str, predicted: pl.DataFrame) -> dict[str, object]:
    units = predicted["units"].to_numpy()
    found: dict[str, object] = {"part": part, "days": predicted.height}
    for name, ending in (("model", ""), ("same_weekday", "_same_weekday")):
        quantiles = np.array(predicted[name].to_list())
        seen = ~np.isnan(quantiles).any(axis=1)
        found[f"loss{ending}"] = weighted_quantile_loss(units[seen], quantiles[seen])
        found[f"in_80{ending}"] = coverage(units[seen], quantiles[seen])
    return found
