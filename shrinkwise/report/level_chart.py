"""The chart of the store's sales level over time."""

from datetime import date, timedelta

import altair as alt
import polars as pl

from shrinkwise.report.charts import CHANGE, NOW, Chart, styled

RECENT_DAYS = 28


def level_over_time(level: pl.DataFrame, breaks: pl.DataFrame | None = None) -> Chart:
    """Units sold a day as points, and their level without the pattern of the week as a line.

    Parameters
    ----------
    level : polars.DataFrame
        date, units, level_units; not empty.
    breaks : polars.DataFrame, optional
        since, change_pct: days from which sales came out above, or below, what was foreseen.
    """
    base = alt.Chart(level).encode(x=alt.X("date:T", title=None))
    points = base.mark_circle(color=NOW, size=8, opacity=0.5).encode(
        y=alt.Y("units:Q", title="Units sold a day"),
        tooltip=["date:T", "units:Q"],
    )
    line = base.mark_line(color=CHANGE, strokeWidth=2).encode(
        y="level_units:Q", tooltip=["date:T", alt.Tooltip("level_units:Q", format=",.0f")]
    )
    drawn = points + line
    if breaks is not None and not breaks.is_empty():
        marked = breaks.with_columns(said=pl.col("change_pct").map_elements(_step, pl.String))
        at = alt.Chart(marked).encode(x="since:T", tooltip=["since:T", "said"])
        drawn += at.mark_rule(color=CHANGE, strokeDash=[4, 3])
        drawn += at.mark_text(align="left", dx=4, dy=-4, color=CHANGE).encode(
            text="said", y=alt.value(8)
        )
    return styled(drawn, level_title(level), height=180)


def _step(change_pct: float) -> str:
    return f"{change_pct:+.0f}% against what was foreseen"


def level_title(level: pl.DataFrame) -> str:
    """How the last four weeks' level stands against the four before."""
    last = level["date"].max()
    assert isinstance(last, date)
    recent = level.filter(pl.col("date") > last - timedelta(days=RECENT_DAYS))
    before = level.filter(
        pl.col("date") <= last - timedelta(days=RECENT_DAYS),
        pl.col("date") > last - timedelta(days=2 * RECENT_DAYS),
    )
    if before.is_empty():
        return f"Units sold a day: {RECENT_DAYS} days and no older ones to hold them against"
    now, then = (float(part["level_units"].mean()) for part in (recent, before))  # type: ignore[arg-type]
    change = 100 * (now / then - 1)
    said = "within 1% of"
    if abs(change) >= 1:
        said = f"{abs(change):.0f}% {'more' if change > 0 else 'less'} than in"
    return f"Units sold a day: {said} the four weeks before, the pattern of the week taken out"
