"""Charts hold the figures of their tables and say the finding in their titles."""

import altair as alt
import polars as pl
import pytest

from shrinkwise.planning.plan import BakePlan
from shrinkwise.report import charts
from shrinkwise.report.plan_tables import recommendations_table
from shrinkwise.report.words import LOSS_PARTS

PARTS = pl.DataFrame(
    {
        "product": ["Rye loaf", "Bagels"],
        "waste": [4.0, 1.5],
        "markdown": [1.0, 0.0],
        "labour": [20.0, 30.0],
    }
)
CURVE = pl.DataFrame(
    {
        "day_on_shelf": [1, 2, 3],
        "sold_full_pct": [61.4, 80.0, 80.0],
        "sold_reduced_pct": [0.0, 0.0, 12.3],
        "disposed_pct": [0.0, 0.0, 7.7],
    }
)
LIVES = pl.DataFrame(
    {
        "shelf_life_days": [1, 2, 3],
        "is_present": ["no", "yes", "no"],
        "loss_week_habit": [60.0, 50.0, 45.0],
        "loss_week_best": [55.0, 40.0, 27.5],
    }
)


def title(chart: alt.Chart) -> str:
    return str(chart.title.text)


def test_loss_by_part_stacks_the_table() -> None:
    chart = charts.loss_by_part(PARTS, "USD", "Bagels cost most: USD 32")
    assert title(chart) == "Bagels cost most: USD 32"
    back = chart.data.pivot("key", index="product", values="loss").select(PARTS.columns)
    assert back.sort("product").equals(PARTS.sort("product"))
    # the costliest line first, whatever the order of the table: 31.5 against 25
    assert chart.to_dict()["encoding"]["y"]["sort"] == ["Bagels", "Rye loaf"]
    colours = chart.to_dict()["encoding"]["color"]["scale"]
    assert dict(zip(colours["domain"], colours["range"], strict=True)) == {
        LOSS_PARTS[part]: charts.PART_COLOURS[part] for part in ("waste", "markdown", "labour")
    }


def test_now_against_plan_of_the_sample(sample_plan: BakePlan) -> None:
    table = recommendations_table(sample_plan)
    chart = charts.now_against_plan(table, "USD")
    best = table.sort("saving_week", descending=True).row(0, named=True)
    assert title(chart).startswith(f"{best['product']} has the most to gain: USD ")
    assert f"{best['saving_week']:,.0f}" in title(chart)
    span, dots = (layer.data for layer in chart.layer)
    columns = ["product", "loss_week_now", "loss_week_plan"]
    assert span.select(columns).sort("product").equals(table.select(columns).sort("product"))
    back = dots.pivot("when", index="product", values="loss").sort("product")
    assert back["now"].to_list() == table.sort("product")["loss_week_now"].to_list()
    assert back["plan"].to_list() == table.sort("product")["loss_week_plan"].to_list()
    # told apart by shape too, for those who do not see the colours
    shapes = chart.to_dict()["layer"][1]["encoding"]["shape"]["scale"]
    assert shapes["range"] == ["circle", "diamond"]


def test_sell_through_curve_adds_up_to_the_batch() -> None:
    chart = charts.sell_through_curve(CURVE, "Rye loaf", 3)
    assert (
        title(chart) == "Rye loaf, 3 days: 61% of a batch sells on the bake day, 8% is disposed of"
    )
    back = chart.data.pivot("key", index="day_on_shelf", values="pct").select(CURVE.columns)
    assert back.equals(CURVE)
    assert chart.data.filter(pl.col("day_on_shelf") == 3)["pct"].sum() == pytest.approx(100)


def test_loss_by_life_says_what_longer_is_worth() -> None:
    chart = charts.loss_by_life(LIVES, "Rye loaf", "USD")
    # 40.00 less 27.50, one day more than the present two
    assert title(chart) == ("Rye loaf: 1 more day would save USD 12 a week before the dearer dough")
    back = chart.data.pivot("key", index="shelf_life_days", values="loss")
    assert back["loss_week_habit"].to_list() == LIVES["loss_week_habit"].to_list()
    assert back["loss_week_best"].to_list() == LIVES["loss_week_best"].to_list()


def test_loss_by_life_without_a_longer_one() -> None:
    chart = charts.loss_by_life(LIVES.head(2), "Rye loaf", "USD")
    assert title(chart) == "Rye loaf: loss by shelf life"


def test_difference_by_part_holds_the_table_in_its_order() -> None:
    parts = pl.DataFrame({"part": ["Sales", "Dough"], "difference": [4.5, -7.0]})
    chart = charts.difference_by_part(parts, "USD", "Dough makes the largest change: USD -7.00")
    assert chart.data.equals(parts)
    assert chart.to_dict()["encoding"]["y"]["sort"] == ["Sales", "Dough"]
    assert title(chart) == "Dough makes the largest change: USD -7.00"


def test_a_drawn_chart_carries_its_title_as_text() -> None:
    chart = charts.loss_by_part(PARTS, "USD", 'Rye "dark" & Bagels cost most')
    drawing = charts.svg(chart)
    assert drawing.startswith("<svg role=")
    assert 'aria-label="Rye &quot;dark&quot; &amp; Bagels cost most"' in drawing
    for text in ("Rye loaf", "Bagels", "Loss in the week [USD]"):
        assert text in drawing
