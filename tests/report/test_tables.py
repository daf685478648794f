"""Tables of a plan and of a shelf-life study: their rows, and that their parts add up."""

from dataclasses import replace
from datetime import timedelta

import polars as pl
import pytest

from shrinkwise.demand.model import DemandModel
from shrinkwise.engine.policy import NO_BAKE
from shrinkwise.money.calendar_weeks import week_name, whole_weeks
from shrinkwise.money.review import review_week
from shrinkwise.planning.life_study import LifeStudy
from shrinkwise.planning.plan import BakePlan
from shrinkwise.planning.settings import PlanSettings
from shrinkwise.profile.weekdays import WEEKDAYS
from shrinkwise.records.tables import Records
from shrinkwise.report.life_tables import sell_through_table, shelf_life_table
from shrinkwise.report.plan_tables import (
    bake_plan_table,
    by_hand_table,
    recommendations_table,
    store_table,
    targets_table,
)
from shrinkwise.report.review_tables import review_table

QUICK = PlanSettings(search_paths=10, judge_paths=20, weeks=2, finalists=1)
LOSS_PARTS = [
    "Waste, dough and disposal",
    "Markdown",
    "Labour",
    "Margin lost on missed sales",
]


def test_a_row_for_every_line_and_weekday(sample_plan: BakePlan) -> None:
    table = bake_plan_table(sample_plan)
    assert table.height == 7 * len(sample_plan.lines)
    assert table["weekday"].to_list() == [*WEEKDAYS] * len(sample_plan.lines)
    assert table["product"].unique(maintain_order=True).to_list() == [
        plan.line.name for plan in sample_plan.lines
    ]
    baked = table["bake"] == "yes"
    assert set(table["bake"]) <= {"yes", "no"}
    # a target, a method and a batch stand exactly where it is baked
    assert (table["target_units"].is_not_null() == baked).all()
    assert ((table["method"] != "") == baked).all()
    assert (table.filter(~baked)["expected_batch_units"] == 0).all()
    assert (table.filter(baked)["target_units"] >= 0).all()


def test_expected_pans_are_the_batch_by_the_pan(sample_plan: BakePlan) -> None:
    table = bake_plan_table(sample_plan)
    for plan in sample_plan.lines:
        rows = table.filter(pl.col("product") == plan.line.name)
        pans = rows["expected_batch_units"] / plan.line.units_per_pan
        assert rows["expected_pans"].to_list() == pytest.approx(pans.to_list())
        assert set(rows["shelf_life_days"]) == {plan.line.shelf_life_days}


def test_expected_batches_add_up_to_what_is_baked(
    sample_plan: BakePlan, sample_demand: DemandModel
) -> None:
    weeks = sample_plan.settings.weeks
    days = [sample_plan.start + timedelta(days=day) for day in range(7 * weeks)]
    is_open = sample_demand.calendar.is_open(days)
    # a weekday's expected batch is its mean over the days on which the store is open
    opened = [is_open[weekday::7].sum() for weekday in range(7)]
    assert sample_plan.start.weekday() == 0
    assert sum(opened) < 7 * weeks
    table = bake_plan_table(sample_plan)
    for plan in sample_plan.lines:
        batches = table.filter(pl.col("product") == plan.line.name)["expected_batch_units"]
        baked = sum(batch * n for batch, n in zip(batches, opened, strict=True)) / weeks
        assert baked == pytest.approx(float(plan.plan.quantities.baked.mean())), plan.line.name


def test_targets_by_weekday(sample_plan: BakePlan) -> None:
    table = targets_table(sample_plan)
    days = ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"]
    assert table.columns == ["product", *days, "least_need_units", "counts"]
    for plan, row in zip(sample_plan.lines, table.iter_rows(), strict=True):
        assert row[0] == plan.line.name
        assert [
            NO_BAKE if cell is None else cell for cell in row[1:8]
        ] == plan.rule.targets.tolist()
        # a table of batches knows no least need
        by_table = plan.rule.batch_table is not None
        assert row[8] == (None if by_table else plan.rule.least_need)


def test_lines_whose_sheet_counts_by_age_have_targets_to_go_by_without_it(
    sample_plan: BakePlan,
) -> None:
    table = by_hand_table(sample_plan)
    by_age = [one for one in sample_plan.lines if one.rule.counts == "units by age"]
    assert by_age
    assert table["product"].to_list() == [one.line.name for one in by_age]
    assert set(table["counts"]) <= {"units", "nothing"}
    # it costs more, else it would be the plan
    assert (table["extra_loss_week"] > 0).all()
    export = bake_plan_table(sample_plan)
    for plan in sample_plan.lines:
        rows = export.filter(pl.col("product") == plan.line.name)
        assert plan.by_hand is not None
        targets = rows["by_hand_target_units"].fill_null(NO_BAKE)
        assert targets.to_list() == plan.by_hand.targets.tolist()
        for name in ("method", "target_units", "least_need_units", "ceiling_units"):
            same = rows[f"by_hand_{name}"].equals(rows[name], check_names=False)
            assert same or plan.counts_by_age
    # taken for the store's sake it has no simpler one: nothing is said rather than the wrong thing
    lone = replace(by_age[0], simpler=None, for_store=True)
    alone = replace(sample_plan, lines=(lone,))
    assert bake_plan_table(alone)["by_hand_target_units"].is_null().all()
    assert by_hand_table(alone).is_empty()


def test_the_stores_loss_is_the_sum_of_its_four_parts(sample_plan: BakePlan) -> None:
    table = store_table(sample_plan)
    assert table.columns == ["measure", "unit", "now", "plan"]
    for column in ("now", "plan"):
        by_measure = dict(table.select("measure", column).iter_rows())
        parts = sum(by_measure[part] for part in LOSS_PARTS)
        assert by_measure["Loss"] == pytest.approx(parts)
        assert 0 < by_measure["In stock"] <= 100
    loss = dict(zip(table["measure"], table["now"] - table["plan"], strict=True))["Loss"]
    assert loss == pytest.approx(float(sample_plan.saving.mean()))


def test_every_figure_of_the_store_has_its_unit_and_base(sample_plan: BakePlan) -> None:
    table = store_table(sample_plan)
    assert (table["unit"] != "").all()
    shrink = table.filter(pl.col("measure").str.contains("Shrink"))
    # the same data give several shrinks: one without its base is a defect
    assert shrink["unit"].to_list() == ["% of net sales"]


def test_a_recommendations_saving_is_its_loss_now_less_its_loss_then(
    sample_plan: BakePlan,
) -> None:
    table = recommendations_table(sample_plan)
    difference = table["loss_week_now"] - table["loss_week_plan"]
    assert table["saving_week"].to_list() == pytest.approx(difference.to_list())
    units = table["bakes_week_plan"] * table["batch_units_plan"]
    baked = [float(plan.plan.quantities.baked.mean()) for plan in sample_plan.lines]
    assert units.to_list() == pytest.approx(baked)
    for column in ("in_stock_pct_now", "in_stock_pct_plan"):
        assert table[column].is_between(0, 100).all()
    assert table["why"].str.contains(r"\d").all()
    assert table["evidence"].str.contains("weeks of sales").all()
    # lines share the opening of baking days, which is the store's alone
    store = dict(store_table(sample_plan).select("measure", "plan").iter_rows())
    days = {day for plan in sample_plan.lines for day in plan.rule.bake_days}
    labour = sample_plan.store.labour
    opening = labour.minutes_per_baking_day * len(days) / 60
    hours = float(table["labour_hours_week_plan"].sum()) + opening
    assert store["Labour hours"] == pytest.approx(hours)


def test_shelf_life_table_compares_with_the_present_life(
    sample_study: LifeStudy, sample_records: Records
) -> None:
    table = shelf_life_table(sample_study)
    lives = {line.name: list(line.lives_to_study) for line in sample_records.profile.lines}
    for name, rows in table.group_by("product"):
        of_line = rows.sort("shelf_life_days")
        assert of_line["shelf_life_days"].to_list() == lives[str(name[0])]
        present = of_line.filter(pl.col("is_present") == "yes")
        assert present.height == 1
        assert present["loss_week_difference"].to_list() == [0.0]
        assert present["loss_week_difference_se"].to_list() == [0.0]
        difference = of_line["loss_week_best"] - present["loss_week_best"][0]
        assert of_line["loss_week_difference"].to_list() == pytest.approx(difference.to_list())


def test_sell_through_follows_every_unit_to_its_end(sample_study: LifeStudy) -> None:
    table = sell_through_table(sample_study)
    assert set(table["basis"]) == {"logs", "model, best plan", "model, present habit"}
    of_weekdays = table.filter(pl.col("batches_baked") != "")
    assert set(of_weekdays["basis"]) == {"logs"}
    assert set(of_weekdays["batches_baked"]) == set(WEEKDAYS)
    for key, rows in table.group_by("product", "shelf_life_days", "basis", "batches_baked"):
        curve = rows.sort("day_on_shelf")
        assert curve["day_on_shelf"].to_list() == list(range(1, int(str(key[1])) + 1)), key
        last = curve.row(-1, named=True)
        ends = last["sold_full_pct"] + last["sold_reduced_pct"] + last["disposed_pct"]
        # in the logs a count may have taken away units on their last day
        assert ends == pytest.approx(100, abs=1.5 if key[2] == "logs" else 1e-9), key
        for way in ("sold_full", "sold_reduced", "disposed"):
            low, high = curve[f"{way}_pct_low"], curve[f"{way}_pct_high"]
            assert (low <= high).all(), key
        for column in ("sold_full_pct", "sold_reduced_pct", "disposed_pct"):
            assert (curve[column].diff().drop_nulls() >= 0).all(), key


def test_whole_weeks_of_the_sample_can_all_be_reviewed(sample_records: Records) -> None:
    weeks = [week_name(first) for first in whole_weeks(sample_records)]
    assert weeks[0] == "2026-W40"
    assert weeks[-1] == "2024-W41"
    assert len(weeks) == len(set(weeks)) == 104
    assert review_week(sample_records, weeks[-1]).weeks_before == 0


def test_review_table_of_the_sample_adds_up(sample_records: Records) -> None:
    review = review_week(sample_records)
    table = review_table(review)
    assert table["loss"].is_sorted(descending=True)
    assert (table["waste"] + table["markdown"] + table["labour"]).to_list() == pytest.approx(
        table["loss"].to_list()
    )
    opening = review.total["loss"] - float(table["loss"].sum())
    labour = sample_records.profile.labour
    # baked on every day of that week
    assert opening == pytest.approx(7 * labour.minutes_per_baking_day / 60 * labour.wage_per_hour)
