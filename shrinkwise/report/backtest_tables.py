"""A back-test as tables and files."""

from collections.abc import Mapping
from pathlib import Path

import numpy as np
import polars as pl

from shrinkwise.demand.backtest import ALL_LINES, QUANTILE_COLUMNS, Backtest
from shrinkwise.demand.paths import INTERVAL
from shrinkwise.files import make_folder, write_file
from shrinkwise.planning.past_weeks import PastWeeks, Week
from shrinkwise.report.sheets import csv_text
from shrinkwise.report.words import interval_text, money_text

SCORES_NOTE = (
    "Loss: twice the mean loss of seven quantiles, over the units; less is better. The same "
    "weekday: what its last eight days would have foretold. What was wanted on a sold-out day is "
    "not known: there the loss is that of foretelling the sale of what was there, and the "
    "interval is held against the other days."
)

SHOWN = 8
"""Columns of what the plan would have saved that fit a terminal; the others are in the file."""


def quantiles_table(tested: Backtest) -> pl.DataFrame:
    """One row per line and open day: what was sold, and the predicted quantiles."""
    sold_out = pl.when("sold_out").then(pl.lit("yes")).otherwise(pl.lit("no"))
    predicted = [pl.col(name).cast(pl.Int64) for name in QUANTILE_COLUMNS]
    return tested.days.select(
        "product", "date", pl.col("units").alias("units_sold"), sold_out.alias("sold_out"),
        *predicted,
    )  # fmt: skip


def batches_table(past: PastWeeks) -> pl.DataFrame:
    """A mean week of the store's batches and of the plan's: one row per line, the largest saving
    first, after one for all of them."""
    each = [(name, past.stores[name], past.plans[name]) for name in past.stores]
    each.sort(key=lambda one: -float(past.saving(one[0]).mean()))
    rows = []
    for name, store, plan in [(ALL_LINES, past.store, past.plan), *each]:
        saving = past.store_saving if name == ALL_LINES else past.saving(name)
        low, high = np.quantile(saving, INTERVAL)
        shared = [0.0, 0.0]
        if name == ALL_LINES:
            shared = [float(past.opening_store.loss), float(past.opening_plan.loss)]
        row = {"saving_week": saving.mean(), "saving_week_low": low, "saving_week_high": high}
        both = zip((store, plan), shared, strict=True)
        figures = [_figures(week, opening) for week, opening in both]
        for key in figures[0]:
            row |= {f"{key}_store": figures[0][key], f"{key}_plan": figures[1][key]}
        rows.append({"product": name} | {key: float(value) for key, value in row.items()})
    return pl.DataFrame(rows)


def _figures(week: Week, opening: float) -> dict[str, float]:
    money, units = week.money, week.quantities
    return {
        "loss_week": money.loss.mean() + opening,
        "waste_units_week": units.disposed.mean(),
        "unmet_units_week": units.unmet.mean(),
        "bakes_week": units.bakes.mean(),
    }


def past_weeks_sentences(past: PastWeeks) -> list[str]:
    """What the plans would have saved in the past weeks, and how that is known."""
    saving, currency = past.store_saving, past.of.currency
    word = "less" if saving.mean() >= 0 else "more"
    made = " and ".join(str(day) for day in past.planned_before)
    return [
        f"Had the plan been followed from {past.first} to {past.last}, a week would have lost "
        f"{money_text(abs(float(saving.mean())), currency)} {word} than with the store's own "
        f"batches (in nine of ten draws {interval_text(saving, currency)}).",
        f"Planned from the logs before {made}, and played on the weeks as they came; the store's "
        "batches for the same shoppers. What was wanted on sold-out days is drawn.",
        *(f"Not told of {name}: {reason}." for name, reason in past.left_out.items()),
    ]


def write_backtest(
    tested: Backtest, past: PastWeeks, beside: Mapping[str, str], folder: Path
) -> list[Path]:
    """Write backtest.csv (scores), backtest_quantiles.csv (every day), backtest_batches.csv
    (the plan's batches against the store's), and other files beside them into `folder`.

    Parameters
    ----------
    tested : Backtest
    past : PastWeeks
    beside : mapping of str to str
        Contents by file name.
    folder : pathlib.Path

    Raises
    ------
    ShrinkwiseError
        When the folder or a file cannot be written.
    """
    contents = {
        "backtest.csv": csv_text(tested.scores()),
        "backtest_quantiles.csv": csv_text(quantiles_table(tested)),
        "backtest_batches.csv": csv_text(batches_table(past)),
        **beside,
    }
    make_folder(folder)
    return [write_file(folder / name, content) for name, content in contents.items()]
