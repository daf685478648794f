"""A back-test as tables and files."""

from pathlib import Path

import polars as pl

from shrinkwise.demand.backtest import QUANTILE_COLUMNS, Backtest
from shrinkwise.files import make_folder, write_file
from shrinkwise.report.sheets import csv_text


def quantiles_table(tested: Backtest) -> pl.DataFrame:
    """One row per line and open day: what was sold, and the predicted quantiles."""
    sold_out = pl.when("sold_out").then(pl.lit("yes")).otherwise(pl.lit("no"))
    predicted = [pl.col(name).cast(pl.Int64) for name in QUANTILE_COLUMNS]
    return tested.days.select(
        "product", "date", pl.col("units").alias("units_sold"), sold_out.alias("sold_out"),
        *predicted,
    )  # fmt: skip


def write_backtest(tested: Backtest, folder: Path) -> list[Path]:
    """Write backtest.csv (scores) and backtest_quantiles.csv (every day) into `folder`.

    Raises
    ------
    ShrinkwiseError
        When the folder or a file cannot be written.
    """
    contents = {
        "backtest.csv": csv_text(tested.scores()),
        "backtest_quantiles.csv": csv_text(quantiles_table(tested)),
    }
    make_folder(folder)
    return [write_file(folder / name, content) for name, content in contents.items()]
