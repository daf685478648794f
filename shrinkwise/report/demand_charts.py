"""Charts of the demand: special days, and what was foreseen against what came."""

import altair as alt
import numpy as np
import polars as pl
from numpy.typing import NDArray

from shrinkwise.demand.foresight import Foresight
from shrinkwise.report.charts import CHANGE, NOW, PLAN, Chart, styled

NOISE_POINTS = 2.5
"""Points round an even share within which a part is taken as even."""


def effects_of_days(table: pl.DataFrame) -> Chart:
    """Each kind of day's change of the demand with its 90% interval.

    Parameters
    ----------
    table : polars.DataFrame
        effect, days, change_pct, low_pct, high_pct; not empty, the first one in the title.
    """
    order = table.sort("change_pct", descending=True)["effect"].to_list()
    # every row with its name
    axis = alt.Axis(labelOverlap=False, labelFlush=False)
    base = alt.Chart(table).encode(
        y=alt.Y("effect:N", sort=order, title=None, axis=axis),
        tooltip=["effect", "days", *(alt.Tooltip(f"{name}:Q", format=".0f") for name in _ENDS)],
    )
    span = base.mark_rule(color=NOW, strokeWidth=3).encode(
        x=alt.X("low_pct:Q", title="Change of the demand [% against an ordinary day]"),
        x2="high_pct:Q",
    )
    dots = base.mark_point(filled=True, size=70, opacity=1, color=CHANGE).encode(x="change_pct:Q")
    zero = alt.Chart(pl.DataFrame({"change_pct": [0.0]})).mark_rule(color=CHANGE)
    chart = span + dots + zero.encode(x="change_pct:Q")
    return styled(chart, effects_title(table), height=22 * table.height)


_ENDS = ("change_pct", "low_pct", "high_pct")


def effects_title(table: pl.DataFrame) -> str:
    """The first effect in words."""
    one = table.row(0, named=True)
    word = "lifts" if one["change_pct"] > 0 else "lowers"
    ends = sorted((abs(one["low_pct"]), abs(one["high_pct"])))
    if one["low_pct"] < 0 < one["high_pct"]:
        return "No special day moves the demand beyond doubt"
    return (
        f"Of all special days, {one['effect']} moves the demand most: it {word} it by "
        f"{abs(one['change_pct']):.0f}% ({ends[0]:.0f}% to {ends[1]:.0f}%)"
    )


def pit_histogram(foresight: Foresight) -> Chart:
    """Share of the days in each part of what was foreseen, against even shares.

    Parameters
    ----------
    foresight : Foresight
        With days that could be foreseen.
    """
    shares = 100 * foresight.pit
    edges = np.linspace(0, 100, len(shares) + 1)
    table = pl.DataFrame(
        {
            "low_pct": edges[:-1],
            "high_pct": edges[1:],
            "days_pct": shares,
            "even_pct": shares.mean(),
        }
    )
    bars = (
        alt.Chart(table)
        .mark_bar(color=NOW, stroke="white")
        .encode(
            x=alt.X("low_pct:Q", title="Place in what was foreseen [% of chance below]"),
            x2="high_pct:Q",
            y=alt.Y("days_pct:Q", title="Days [%]"),
            y2=alt.datum(0),
            tooltip=[alt.Tooltip(f"{name}:Q", format=".1f") for name in table.columns[:3]],
        )
    )
    even = alt.Chart(table.head(1)).mark_rule(color=CHANGE, strokeDash=[4, 3])
    return styled(bars + even.encode(y="even_pct:Q"), pit_title(shares), height=160)


def pit_title(shares: NDArray[np.float64]) -> str:
    """What the histogram shows; `shares` add up to 100 [%]."""
    even, n = float(shares.mean()), len(shares)
    if np.abs(shares - even).max() <= NOISE_POINTS:
        return f"Past days fall evenly over what was foreseen: {_range(shares)} in each part"
    low, high = shares[: n // 2].sum(), shares[n - n // 2 :].sum()
    if abs(high - low) > NOISE_POINTS * n / 2:
        where, word = ("high", "low") if high > low else ("low", "high")
        share = max(high, low)
        return f"Demand was foreseen too {word}: {share:.0f}% of the days lie in its {where} half"
    ends = float(shares[0] + shares[-1]) / 2
    if ends > even + NOISE_POINTS / 2:
        return f"Days scatter more widely than was foreseen: {_range(shares)} in each part"
    if ends < even - NOISE_POINTS / 2:
        return f"Days scatter less widely than was foreseen: {_range(shares)} in each part"
    return f"Past days fall over what was foreseen with {_range(shares)} in each part"


def _range(shares: NDArray[np.float64]) -> str:
    return f"{shares.min():.1f}% to {shares.max():.1f}% of them"


def weeks_foreseen(foresight: Foresight) -> Chart:
    """What all lines sold a week as points, what was expected as a line in its 80% interval.

    Parameters
    ----------
    foresight : Foresight
        With days that could be foreseen.
    """
    base = alt.Chart(foresight.weeks).encode(x=alt.X("week_start:T", title=None))
    interval = base.mark_area(color=PLAN, opacity=0.2).encode(
        y=alt.Y("low_units:Q", title="Units sold a week", scale=alt.Scale(zero=False)),
        y2="high_units:Q",
    )
    line = base.mark_line(color=PLAN, strokeWidth=2).encode(y="expected_units:Q")
    points = base.mark_circle(color=CHANGE, size=30, opacity=1).encode(
        y="sold_units:Q",
        tooltip=[
            "week_start:T",
            *(alt.Tooltip(f"{name}:Q", format=",.0f") for name in foresight.weeks.columns[1:]),
        ],
    )
    title = (
        f"Within the 80% interval foreseen a week before: {foresight.in_80_pct:.0f}% of the last "
        f"{foresight.weeks.height} weeks"
    )
    return styled(interval + line + points, title, height=180)
