"""Charts: pure functions from a table to a chart. One colour has one meaning everywhere."""

from html import escape
from io import StringIO

import altair as alt
import polars as pl

from shrinkwise.report.words import LOSS_PARTS, money_text

Chart = alt.Chart

PART_COLOURS = {
    "waste": "#a63d2f",
    "markdown": "#e0a63a",
    "labour": "#5b7f95",
    "missed_margin": "#5d4a7e",
}
NOW, PLAN = "#9a9389", "#1f6f5c"
WAY_COLOURS = {
    "full price": "#2f4b6e",
    "reduced": PART_COLOURS["markdown"],
    "disposed": PART_COLOURS["waste"],
}
CHANGE = "#3b3f45"
"""A change for better or worse: its side of zero tells which."""


AROUND_CHART = 90
"""Height of a chart's legend and axis on a page [pixels]."""


def styled(chart: alt.Chart | alt.LayerChart, title: str, height: int | None = None) -> alt.Chart:
    named = chart.properties(title=alt.Title(title, anchor="start", fontSize=15), width=560)
    if height is not None:
        named = named.properties(height=height)
    return (
        named.configure_axis(labelFontSize=12, titleFontSize=12, labelLimit=170, gridOpacity=0.4)
        .configure_legend(labelFontSize=12, titleFontSize=12, orient="top")
        .configure_view(strokeWidth=0)
    )


def svg(chart: alt.Chart) -> str:
    """A chart as inline SVG, with its title as the text for those who cannot see it."""
    file = StringIO()
    chart.save(file, format="svg")
    label = escape(str(chart.title.text), quote=True)
    return file.getvalue().replace("<svg ", f'<svg role="img" aria-label="{label}" ', 1)


def make_ready() -> None:
    """Start what draws the charts, which takes half a second, so that later ones need not wait."""
    svg(styled(alt.Chart(alt.Data(values=[])).mark_point(), title=""))


def untitled(chart: alt.Chart) -> tuple[str, alt.Chart]:
    """A chart's title, and the chart without it and as wide as its place.

    A page sets the title itself, so that it wraps; its height then holds legend and axis too.
    """
    height = chart.height + AROUND_CHART
    return str(chart.title.text), chart.properties(title="", width="container", height=height)


def _rows(field: str, order: list[str]) -> alt.Y:
    """A row each, in the given order, every one with its name."""
    return alt.Y(field, sort=order, title=None, axis=alt.Axis(labelOverlap=False, labelFlush=False))


def loss_by_part(parts: pl.DataFrame, currency: str, title: str) -> alt.Chart:
    """Stacked bars of a week's loss by line.

    Parameters
    ----------
    parts : polars.DataFrame
        product and any of the keys of LOSS_PARTS [money per week].
    currency, title : str
    """
    held = [part for part in LOSS_PARTS if part in parts.columns]
    order = parts.with_columns(total=pl.sum_horizontal(held)).sort("total", descending=True)
    long = parts.unpivot(
        held, index="product", variable_name="key", value_name="loss"
    ).with_columns(
        part=pl.col("key").replace_strict(LOSS_PARTS),
        rank=pl.col("key").replace_strict({part: i for i, part in enumerate(held)}),
    )
    chart = (
        alt.Chart(long)
        .mark_bar()
        .encode(
            x=alt.X("loss:Q", title=f"Loss in the week [{currency}]"),
            y=_rows("product:N", order["product"].to_list()),
            color=alt.Color(
                "part:N",
                title=None,
                scale=alt.Scale(
                    domain=[LOSS_PARTS[part] for part in held],
                    range=[PART_COLOURS[part] for part in held],
                ),
            ),
            order=alt.Order("rank:Q"),
            tooltip=["product", "part", alt.Tooltip("loss:Q", format=",.2f")],
        )
    )
    return styled(chart, title, height=20 * parts.height)


def now_against_plan(recommendations: pl.DataFrame, currency: str) -> alt.Chart:
    """Each line's weekly loss now and under the plan, joined by a bar: its length is the saving.

    Parameters
    ----------
    recommendations : polars.DataFrame
        product, loss_week_now, loss_week_plan, saving_week.
    currency : str
    """
    table = recommendations.sort("saving_week", descending=True)
    best = table.row(0, named=True)
    order = table["product"].to_list()
    base = alt.Chart(table).encode(y=_rows("product:N", order))
    span = base.mark_bar(height=5, color="#d8d2c6").encode(
        x=alt.X("loss_week_now:Q", title=f"Expected loss [{currency} per week]"),
        x2="loss_week_plan:Q",
    )
    long = table.unpivot(
        ["loss_week_now", "loss_week_plan"], index="product", value_name="loss"
    ).with_columns(
        when=pl.col("variable").replace_strict({"loss_week_now": "now", "loss_week_plan": "plan"})
    )
    dots = (
        alt.Chart(long)
        .mark_point(filled=True, size=90, opacity=1)
        .encode(
            x="loss:Q",
            y=_rows("product:N", order),
            color=alt.Color(
                "when:N", title=None, scale=alt.Scale(domain=["now", "plan"], range=[NOW, PLAN])
            ),
            shape=alt.Shape(
                "when:N",
                title=None,
                scale=alt.Scale(domain=["now", "plan"], range=["circle", "diamond"]),
            ),
            tooltip=["product", "when", alt.Tooltip("loss:Q", format=",.2f")],
        )
    )
    saving = money_text(best["saving_week"], currency)
    title = f"{best['product']} has the most to gain: {saving} a week"
    return styled(span + dots, title, height=24 * table.height)


def sell_through_curve(curve: pl.DataFrame, product: str, life: int) -> alt.Chart:
    """How a batch leaves the shelf by the close of each day on shelf.

    Parameters
    ----------
    curve : polars.DataFrame
        day_on_shelf, sold_full_pct, sold_reduced_pct, disposed_pct: cumulative [% of units baked].
    product : str
    life : int
        Shelf life [days].
    """
    names = {
        "sold_full_pct": "full price",
        "sold_reduced_pct": "reduced",
        "disposed_pct": "disposed",
    }
    long = curve.unpivot(
        list(names), index="day_on_shelf", variable_name="key", value_name="pct"
    ).with_columns(
        way=pl.col("key").replace_strict(names),
        rank=pl.col("key").replace_strict({key: i for i, key in enumerate(names)}),
    )
    first, last = curve.row(0, named=True), curve.row(-1, named=True)
    title = (
        f"{product}, {life} days: {first['sold_full_pct']:.0f}% of a batch sells on the bake day, "
        f"{last['disposed_pct']:.0f}% is disposed of"
    )
    chart = (
        alt.Chart(long)
        .mark_bar(size=36)
        .encode(
            x=alt.X("day_on_shelf:O", title="Day on shelf", axis=alt.Axis(labelAngle=0)),
            y=alt.Y(
                "pct:Q", title="Left the shelf [% of units baked]", scale=alt.Scale(domain=[0, 100])
            ),
            color=alt.Color(
                "way:N",
                title=None,
                scale=alt.Scale(domain=list(WAY_COLOURS), range=list(WAY_COLOURS.values())),
            ),
            order=alt.Order("rank:Q"),
            tooltip=["day_on_shelf", "way", alt.Tooltip("pct:Q", format=".1f")],
        )
    )
    return styled(chart, title, height=220)


def loss_by_life(lives: pl.DataFrame, product: str, currency: str) -> alt.Chart:
    """A line's weekly loss by shelf life, under the present habit and under the best plan.

    Parameters
    ----------
    lives : polars.DataFrame
        shelf_life_days, loss_week_habit, loss_week_best, is_present.
    product, currency : str
    """
    names = {"loss_week_habit": "present habit", "loss_week_best": "best plan for that life"}
    long = lives.unpivot(
        list(names), index="shelf_life_days", variable_name="key", value_name="loss"
    ).with_columns(under=pl.col("key").replace_strict(names))
    present = lives.filter(pl.col("is_present") == "yes").row(0, named=True)
    longest = lives.sort("shelf_life_days").row(-1, named=True)
    gain = present["loss_week_best"] - longest["loss_week_best"]
    days = longest["shelf_life_days"] - present["shelf_life_days"]
    title = (
        f"{product}: {days} more day{'s' if days > 1 else ''} would save "
        f"{money_text(gain, currency)} a week before the dearer dough"
        if days > 0 and gain > 0
        else f"{product}: loss by shelf life"
    )
    chart = (
        alt.Chart(long)
        .mark_line(point=alt.OverlayMarkDef(size=80, filled=True), strokeWidth=2)
        .encode(
            x=alt.X("shelf_life_days:O", title="Shelf life [days]", axis=alt.Axis(labelAngle=0)),
            y=alt.Y(
                "loss:Q", title=f"Expected loss [{currency} per week]", scale=alt.Scale(zero=True)
            ),
            color=alt.Color(
                "under:N",
                title=None,
                scale=alt.Scale(domain=list(names.values()), range=[NOW, PLAN]),
            ),
            tooltip=["shelf_life_days", "under", alt.Tooltip("loss:Q", format=",.2f")],
        )
    )
    return styled(chart, title, height=220)


def difference_by_part(parts: pl.DataFrame, currency: str, title: str) -> alt.Chart:
    """What a scenario changes in the week's result, part by part.

    Parameters
    ----------
    parts : polars.DataFrame
        part, difference [money per week]: above zero is to the store's good.
    currency, title : str
    """
    chart = (
        alt.Chart(parts)
        .mark_bar(size=18, color=CHANGE)
        .encode(
            x=alt.X("difference:Q", title=f"Change of the week's result [{currency} per week]"),
            y=_rows("part:N", parts["part"].to_list()),
            tooltip=["part", alt.Tooltip("difference:Q", format=",.2f")],
        )
    )
    return styled(chart, title, height=32 * parts.height)
