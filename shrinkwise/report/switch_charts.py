"""Charts of an offer: what must be true, and the map of extra days against extra cost."""

import altair as alt
import polars as pl

from shrinkwise.report.charts import CHANGE, NOW, PLAN, Chart, styled
from shrinkwise.report.study_words import ASSUMPTIONS, extra_days_text, swing_text
from shrinkwise.report.words import money_text
from shrinkwise.scenarios.study import SwitchStudy

PAYS, PAYS_NOT = "pays", "does not pay"
SHOWN_SWINGS = 7


def swing_bars(study: SwitchStudy, currency: str) -> Chart:
    """A bar per assumption: what the switch brings at the ends of its range; a line at zero and
    one at the offer.

    Parameters
    ----------
    study : SwitchStudy
    currency : str
    """
    shown = study.swings[:SHOWN_SWINGS]
    table = pl.DataFrame(
        {
            "assumption": [swing_text(swing, currency) for swing in shown],
            "at_low": [swing.at_low for swing in shown],
            "at_high": [swing.at_high for swing in shown],
        }
    )
    first = shown[0]
    ends = [money_text(end, currency) for end in (first.at_low, first.at_high)]
    title = f"The {ASSUMPTIONS[first.assumption]} moves the answer furthest: {ends[0]} to {ends[1]}"
    rows = alt.Y(
        "assumption:N",
        sort=table["assumption"].to_list(),
        title=None,
        axis=alt.Axis(labelLimit=300, labelOverlap=False),
    )
    bars = (
        alt.Chart(table)
        .mark_bar(size=11, color=CHANGE, opacity=0.75)
        .encode(
            x=alt.X("at_low:Q", title=f"What the switch brings [{currency} a week]"),
            x2="at_high:Q",
            y=rows,
            tooltip=[
                "assumption",
                alt.Tooltip("at_low:Q", format=",.2f"),
                alt.Tooltip("at_high:Q", format=",.2f"),
            ],
        )
    )
    places = pl.DataFrame(
        {
            "place": [0.0, float(study.offer.brings.mean())],
            "line": ["nothing gained", "as offered"],
        }
    )
    lines = (
        alt.Chart(places)
        .mark_rule(strokeWidth=2)
        .encode(
            x="place:Q",
            strokeDash=alt.StrokeDash(
                "line:N",
                title=None,
                scale=alt.Scale(domain=["nothing gained", "as offered"], range=[[1, 0], [4, 3]]),
            ),
        )
    )
    return styled(bars + lines, title, height=30 * table.height)


def offer_map(study: SwitchStudy, currency: str) -> Chart:
    """Where a switch pays, by extra days and extra cost, with the zero line and the offer on it.

    Parameters
    ----------
    study : SwitchStudy
    currency : str
    """
    present, offered = study.offer.present, study.offer.offered
    low, high = study.map[0].extra_cost[0], study.map[0].extra_cost[-1]
    rows = []
    for column in study.map:
        # right of the zero line the dough is too dear
        pays_all = column.brings[-1] >= 0
        zero = column.zero if column.zero is not None else (high if pays_all else low)
        edge = min(max(zero, low), high)
        rows.append((column.extra_days, low, edge, PAYS, column.zero))
        rows.append((column.extra_days, edge, high, PAYS_NOT, column.zero))
    columns = ["extra_days", "from_cost", "to_cost", "answer", "zero"]
    table = pl.DataFrame(rows, schema=columns, orient="row").filter(
        pl.col("to_cost") > pl.col("from_cost")
    )
    days = offered.shelf_life_days - present.shelf_life_days
    cost = round(offered.dough_cost - present.dough_cost, 4)
    own = next(column for column in study.map if column.extra_days == days)
    title = f"With {extra_days_text(days)} the switch pays {_worth(own.zero, currency)}"
    y = alt.Y("extra_days:O", title="Extra days", sort="descending")
    cells = (
        alt.Chart(table)
        .mark_bar()
        .encode(
            x=alt.X(
                "from_cost:Q",
                title=f"Extra dough cost [{currency} a unit]",
                scale=alt.Scale(domain=[low, high], nice=False, zero=False),
            ),
            x2="to_cost:Q",
            y=y,
            color=alt.Color(
                "answer:N",
                title=None,
                scale=alt.Scale(domain=[PAYS, PAYS_NOT], range=[PLAN, NOW]),
            ),
            tooltip=["extra_days", "answer", alt.Tooltip("zero:Q", format=".3f")],
        )
    )
    zeros = (
        alt.Chart(table.filter(pl.col("zero").is_between(low, high)).unique("extra_days"))
        .mark_tick(thickness=3, size=24, color="black")
        .encode(x="zero:Q", y=y)
    )
    mark = pl.DataFrame({"extra_days": [days], "extra_cost": [cost], "mark": ["the offer"]})
    offer = (
        alt.Chart(mark)
        .mark_point(filled=True, size=150, color="white", stroke="black", opacity=1)
        .encode(
            x="extra_cost:Q",
            y=y,
            shape=alt.Shape(
                "mark:N", title=None, scale=alt.Scale(domain=["the offer"], range=["diamond"])
            ),
        )
    )
    return styled(cells + zeros + offer, title, height=max(44 * len(study.map), 120))


def _worth(zero: float | None, currency: str) -> str:
    """Up to which extra cost a unit the switch pays."""
    if zero is None:
        return "at every cost or at none"
    if zero < 0:
        return f"if a unit is {currency} {-zero:,.3f} cheaper or more"
    return f"up to {currency} {zero:,.3f} more a unit"
