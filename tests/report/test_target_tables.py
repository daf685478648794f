"""The curve of loss against each weekday's target, as tables and as a chart."""

import polars as pl

from shrinkwise.planning.plan import BakePlan
from shrinkwise.report.page import plan_page
from shrinkwise.report.target_chart import loss_by_target
from shrinkwise.report.target_tables import curve_table, off_target_table
from shrinkwise.tonight.sheet import PanUpSheet


def test_every_bake_day_has_its_curve(sample_plan: BakePlan) -> None:
    table = curve_table(sample_plan)
    for line in sample_plan.lines:
        rows = table.filter(pl.col("product") == line.line.name)
        assert rows.height == len(line.rule.bake_days) * len(line.curve.moved)
        on = rows.filter(pl.col("moved_units") == 0)
        assert on["extra_loss_week"].to_list() == [0.0] * len(line.rule.bake_days)


def test_steps_stand_side_by_side(sample_plan: BakePlan) -> None:
    curve, table = curve_table(sample_plan), off_target_table(sample_plan)
    assert table.height == sum(len(line.rule.bake_days) for line in sample_plan.lines)
    row = table.row(0, named=True)
    same = curve.filter(product=row["product"], weekday=row["weekday"])
    for name, steps in (("2 steps fewer", -2), ("1 step fewer", -1), ("1 step more", 1)):
        found = same.filter(moved_units=steps * row["step_units"])["extra_loss_week"][0]
        assert row[name] == found


def test_the_chart_names_the_costliest_slip(sample_plan: BakePlan) -> None:
    of_line = curve_table(sample_plan).filter(product="French bread")
    chart = loss_by_target(of_line, "French bread", "USD")
    near = of_line.filter(pl.col("moved_units").abs() == of_line["moved_units"].filter(
        of_line["moved_units"] > 0).min())  # fmt: skip
    worst = near.sort("extra_loss_week").row(-1, named=True)
    title = str(chart.title.text)
    assert worst["weekday"].capitalize() in title
    assert f"{worst['extra_loss_week']:.2f}" in title
    assert chart.data.height == of_line.height


def test_the_page_holds_the_table_closed(sample_plan: BakePlan, sample_sheet: PanUpSheet) -> None:
    page = plan_page(sample_plan, sample_sheet)
    assert "<summary>What it costs when the target of one weekday is off" in page
    assert "1 step fewer" in page
