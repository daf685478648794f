"""The empty shelf of a past week as a table and a sentence."""

import numpy as np
import polars as pl

from shrinkwise.demand.paths import INTERVAL
from shrinkwise.money.unmet import ALL_LINES, ALL_WEEK, UnmetWeek
from shrinkwise.report.words import count_text, interval_text, money_text

_WORTH_SHOWING = 0.05
"""Mean units below which a cell is empty."""


def missed_sales_table(unmet: UnmetWeek) -> pl.DataFrame:
    """A row for each line that missed sales, the costliest first, and one for all lines.

    Returns
    -------
    polars.DataFrame
        product, the weekdays in their order, `week` [units] and `missed_margin` [money]: texts of
        the mean and the 90% interval, such as '9 (1–22)'; null where nothing was missed.
    """
    table = unmet.table().with_columns(
        cell=pl.struct("unmet_units", "unmet_units_low", "unmet_units_high").map_elements(
            lambda of: _cell(*of.values()), pl.String
        ),
        money=pl.struct("missed_margin", "missed_margin_low", "missed_margin_high").map_elements(
            lambda of: _cell(*of.values()), pl.String
        ),
    )
    week = table.filter(pl.col("weekday") == ALL_WEEK)
    lines = week.filter(
        pl.col("product") != ALL_LINES, pl.col("unmet_units") >= _WORTH_SHOWING
    ).sort("missed_margin", descending=True)
    order = [*lines["product"], ALL_LINES]
    rows = [
        {"product": name}
        | dict(table.filter(pl.col("product") == name).select("weekday", "cell").iter_rows())
        | {"missed_margin": week.filter(pl.col("product") == name)["money"].item()}
        for name in order
    ]
    weekdays = table["weekday"].unique(maintain_order=True)
    columns = ["product", *weekdays, "missed_margin"]
    return pl.DataFrame(rows, schema=dict.fromkeys(columns, pl.String))


def missed_sales_text(unmet: UnmetWeek, currency: str) -> str:
    """What was wanted and not there, in units and money, with its 90% interval."""
    if not unmet.lines:
        return "What was missed cannot be told."
    units = unmet.units.sum(axis=(0, 1))
    if not units.any():
        return "No line was sold out on a day of the week, so no sales were missed."
    low, high = np.quantile(units, INTERVAL)
    return (
        f"About {count_text(round(float(units.mean())), 'unit')} ({low:.0f} to {high:.0f}) were "
        f"wanted and not there: {money_text(float(unmet.missed_margin.mean()), currency)} of "
        f"margin lost, in nine of ten cases {interval_text(unmet.missed_margin, currency)}."
    )


def not_told_text(unmet: UnmetWeek) -> str:
    """Of which lines nothing can be said, and why; empty where there are none."""
    reasons: dict[str, list[str]] = {}
    for name, reason in unmet.left_out.items():
        reasons.setdefault(reason, []).append(name)
    return " ".join(f"Not told of {', '.join(names)}: {why}." for why, names in reasons.items())


def _cell(mean: float, low: float, high: float) -> str | None:
    return f"{mean:.0f} ({low:.0f}–{high:.0f})" if mean >= _WORTH_SHOWING else None
