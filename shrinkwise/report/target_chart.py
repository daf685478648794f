"""The chart of a line's loss against the target of each weekday."""

import altair as alt
import polars as pl

from shrinkwise.profile.weekdays import WEEKDAYS
from shrinkwise.report.charts import Chart, styled
from shrinkwise.report.words import money_text

WEEKDAY_SHADES = ("#b5dacb", "#93c4b2", "#72ae99", "#549981", "#37836b", "#1f6f5c", "#0d4b3c")
"""Shades of the plan's colour, Monday the lightest."""


def loss_by_target(curve: pl.DataFrame, product: str, currency: str) -> Chart:
    """A curve per weekday: what the week loses more when that day's target is off.

    Parameters
    ----------
    curve : polars.DataFrame
        weekday, target_units, moved_units, extra_loss_week of one line.
    product, currency : str
    """
    near = curve.filter(pl.col("moved_units") != 0).sort(pl.col("moved_units").abs())
    worst = near.head(2 * curve["weekday"].n_unique()).sort("extra_loss_week").tail(1)
    title = f"{product} loses no more when a target is a step off"
    if not worst.is_empty() and worst["extra_loss_week"][0] >= 0.005:
        row = worst.row(0, named=True)
        off = f"{abs(row['moved_units'])} {'fewer' if row['moved_units'] < 0 else 'more'}"
        title = (
            f"{product}: the costliest slip is {off} on {row['weekday'].capitalize()}, "
            f"{money_text(row['extra_loss_week'], currency)} a week"
        )
    days = [day for day in WEEKDAYS if day in set(curve["weekday"])]
    chart = (
        alt.Chart(curve)
        .mark_line(point=True)
        .encode(
            x=alt.X("moved_units:Q", title="Units more or fewer than planned"),
            y=alt.Y("extra_loss_week:Q", title=f"Loss more [{currency} a week]"),
            color=alt.Color(
                "weekday:O",
                title=None,
                sort=days,
                scale=alt.Scale(domain=days, range=WEEKDAY_SHADES[-len(days) :]),
            ),
            tooltip=[
                "weekday",
                alt.Tooltip("target_units", title="planned"),
                alt.Tooltip("moved_units", title="more"),
                alt.Tooltip("extra_loss_week:Q", format=",.2f"),
            ],
        )
    )
    return styled(chart, title, height=220)
