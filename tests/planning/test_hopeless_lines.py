"""Lines that no plan can help: sold below cost, never sold, always wasted."""

import json
from pathlib import Path

import numpy as np
import pytest

from shrinkwise.demand.model import fit_demand
from shrinkwise.planning.life_study import study_shelf_life
from shrinkwise.planning.plan import BakePlan, plan_bakes
from shrinkwise.planning.settings import PlanSettings
from shrinkwise.records.reading import read_records
from shrinkwise.records.tables import Records
from shrinkwise.report.plan_files import plan_contents
from shrinkwise.report.words import why
from shrinkwise.shelf.model import fit_shelf
from shrinkwise.tonight.sheet import pan_up_sheet

QUICK = PlanSettings(weeks=4, search_paths=20, judge_paths=40, finalists=2)


@pytest.fixture(scope="module")
def records(hopeless_folder: Path) -> Records:
    return read_records(hopeless_folder)


@pytest.fixture(scope="module")
def plan(records: Records) -> BakePlan:
    demand = fit_demand(records)
    return plan_bakes(records, demand, fit_shelf(records, demand), settings=QUICK)


def test_a_line_that_costs_more_than_it_brings_is_not_baked(plan: BakePlan) -> None:
    for line in plan.lines:
        assert line.rule.bake_days == ()
        assert line.plan.quantities.baked.sum() == 0
        assert why(line, "USD").startswith("Stop baking it: at this price, cost and demand")
    # without a bake day the bakery is not opened
    assert plan.plan.labour.max() == 0


def test_a_line_never_sold_or_baked_is_left_out(plan: BakePlan) -> None:
    assert "0 days on sale" in plan.left_out["Never sold"]


def test_its_files_hold_no_number_that_is_none(plan: BakePlan, records: Records) -> None:
    contents = plan_contents(plan, pan_up_sheet(plan, fit_demand(records)))
    assert "NaN" not in str(contents["recommendations.csv"])
    document = json.loads(contents["plan.json"])
    assert document["recommendations"][0]["shrink_pct_sales_plan"] is None
    rows = str(contents["bake_plan.csv"]).splitlines()
    assert all(row.split(",")[2] == "no" for row in rows[1:])


def test_its_shelf_lives_can_be_studied(records: Records) -> None:
    demand = fit_demand(records)
    study = study_shelf_life(records, demand, fit_shelf(records, demand), QUICK)
    options = [option for line in study.lines for option in line.options]
    assert all(option.curve(option.best).is_empty() for option in options)
    assert all(np.isnan(option.freshness(option.best).mean) for option in options)
