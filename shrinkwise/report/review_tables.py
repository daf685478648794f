"""A past week as tables."""

import polars as pl

from shrinkwise.money.ratios import share_pct
from shrinkwise.money.review import WeekReview

SHOWN_BY_LINE = (
    "product",
    "net_sales",
    "disposed_units",
    "markdown",
    "shrink_at_retail_pct_sales",
    "labour_hours",
    "sold_out_days",
    "loss",
    "before_loss",
)
"""Columns of `review_table` that people are shown."""

_OF_DISPOSALS = ("disposed_units", "waste")


NOT_LOGGED = (
    "No disposals are logged: what was thrown is in none of these figures, and the shrink is that "
    "of the markdowns alone."
)


def lost_to(review: WeekReview) -> str:
    """What the loss of the week holds: 'waste, markdown and labour'."""
    return "waste, markdown and labour" if review.disposals_logged else "markdown and labour"


def review_totals_table(review: WeekReview) -> pl.DataFrame:
    """The store's week against the mean of the weeks before: measure, unit, week, before.

    Null where it is not known.
    """
    currency = review.store.currency
    week, before = review.total, review.total_before
    logged = review.disposals_logged
    disposed = [total["disposed_units"] if logged else None for total in (week, before)]

    def pct(total: dict[str, float], name: str) -> float:
        return float(share_pct(total[name], total["net_sales"]))

    rows = [
        ("Net sales", currency, week["net_sales"], before["net_sales"]),
        ("Shrink at retail", currency, week["shrink_at_retail"], before["shrink_at_retail"]),
        (
            "Shrink at retail",
            "% of net sales",
            pct(week, "shrink_at_retail"),
            pct(before, "shrink_at_retail"),
        ),
        ("Shrink at cost", currency, week["shrink_at_cost"], before["shrink_at_cost"]),
        (
            "Shrink at cost",
            "% of net sales",
            pct(week, "shrink_at_cost"),
            pct(before, "shrink_at_cost"),
        ),
        ("Markdown", currency, week["markdown"], before["markdown"]),
        ("Disposed of", "units", *disposed),
        ("Labour", "hours", week["labour_hours"], before["labour_hours"]),
        ("Labour", currency, week["labour"], before["labour"]),
        ("Sold out", "line-days", week["sold_out_days"], before["sold_out_days"]),
        (f"Loss: {lost_to(review).replace(' and', ',')}", currency, week["loss"], before["loss"]),
    ]
    columns = ["measure", "unit", "week", "before"]
    return pl.DataFrame(rows, schema=columns, orient="row").fill_nan(None)


def review_table(review: WeekReview) -> pl.DataFrame:
    """One row per line of the week and its mean before, costliest first.

    Money is per week; shrink percentages are of the line's net sales. What was disposed of is
    null where that is not logged.
    """
    before = review.lines_before.select(
        "product",
        before_loss="loss",
        before_shrink_at_retail="shrink_at_retail",
        before_net_sales="net_sales",
    )
    table = review.lines.join(before, on="product", how="left")
    table = table.with_columns(
        shrink_at_retail_pct_sales=pl.Series(
            share_pct(table["shrink_at_retail"], table["net_sales"])
        ),
        shrink_at_cost_pct_sales=pl.Series(share_pct(table["shrink_at_cost"], table["net_sales"])),
        before_shrink_at_retail_pct_sales=pl.Series(
            share_pct(table["before_shrink_at_retail"], table["before_net_sales"])
        ),
    )
    if not review.disposals_logged:
        table = table.with_columns(pl.lit(None, pl.Float64).alias(name) for name in _OF_DISPOSALS)
    return table.fill_nan(None).sort("loss", descending=True)
