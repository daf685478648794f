"""The shelf of a day under way, by hand; and the records that end at a count before close."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import polars as pl
import pytest
from numpy.typing import NDArray

from shrinkwise.demand.model import DemandModel, fit_demand
from shrinkwise.planning.plan import plan_bakes
from shrinkwise.planning.settings import PlanSettings
from shrinkwise.records.tables import Records
from shrinkwise.records.today import Today, day_under_way
from shrinkwise.shelf.model import fit_shelf
from shrinkwise.shelf.today import left_for_tomorrow, taken
from shrinkwise.tonight.sheet import pan_up_sheet

RNG = np.random.default_rng(1)
LINE = "Italian loaf"


def column(*units: int) -> NDArray[np.int16]:
    return np.array(units, np.int16)[:, None]


@pytest.mark.parametrize(
    ("oldest", "freshest", "left"),
    [
        # 4 of the oldest and 1 of the next; 2 of today's bake
        (5, 2, [1, 1, 0]),
        (0, 4, [0, 1, 4]),
        # the two ends meet
        (6, 3, [0, 0, 0]),
        (20, 20, [0, 0, 0]),
        (0, 0, [3, 2, 4]),
    ],
)
def test_units_are_taken_from_both_ends(oldest: int, freshest: int, left: list[int]) -> None:
    units = column(3, 2, 4).astype(np.int64)
    assert taken(units, np.array([oldest]), np.array([freshest]))[:, 0].tolist() == left


@pytest.mark.parametrize(
    ("today", "late", "left"),
    [
        # 1 of the oldest was disposed of, 3 and 2 were sold; 3 of today's bake are left
        (Today(3, 5, 1, None), 0, [0, 3, 0]),
        # one fewer was counted: it has left the shelf unlogged
        (Today(3, 5, 1, 2), 0, [0, 2, 0]),
        # two more were counted: they were baked
        (Today(3, 5, 1, 5), 0, [0, 5, 0]),
        # two fewer: of the freshest, though old ones are there
        (Today(3, 2, 0, 5), 0, [0, 1, 2]),
        # 2 of the oldest are left, and will be gone tonight
        (Today(3, 2, 0, None), 0, [0, 3, 2]),
        # 3 shoppers after the count take them, and one of the next
        (Today(3, 2, 0, None), 3, [0, 3, 1]),
        # more was sold than there was by the logs
        (Today(0, 9, 0, None), 0, [0, 0, 0]),
    ],
)
def test_what_is_left_for_tomorrow(today: Today, late: int, left: list[int]) -> None:
    """Yesterday's bake left 2 units, that of the day before 4, on their last day."""
    morning = column(0, 2, 4)
    found = left_for_tomorrow(morning, today, np.ones(1), RNG, np.array([late]))
    assert found[:, 0].tolist() == left


def at_count(records: Records, pct: float) -> Records:
    """The records as they stand when so much of the last day's demand is still to come."""
    last = pl.col("date") == records.last_date
    so_far = (pl.col("units") * (1 - pct / 100)).floor().cast(pl.Int64)
    kept = pl.when(last).then(so_far).otherwise(pl.col("units"))
    return replace(
        records,
        profile=records.profile.model_copy(update={"demand_after_count_pct": pct}),
        sales=records.sales.with_columns(units=kept),
        disposals=records.disposals.filter(~last),
    )


@pytest.fixture(scope="module")
def early(sample_records: Records) -> Records:
    return at_count(sample_records, 30)


@pytest.fixture(scope="module")
def early_demand(early: Records) -> DemandModel:
    return fit_demand(early)


def test_no_day_is_under_way_where_the_shelf_is_counted_after_close(
    sample_records: Records, sample_demand: DemandModel
) -> None:
    assert day_under_way(sample_records) == {}
    assert sample_demand.today == {}


def test_the_day_under_way_is_no_day_of_demand(
    early: Records, early_demand: DemandModel, sample_demand: DemandModel
) -> None:
    for name, ledger in early_demand.ledgers.items():
        assert ledger.dates[-1] == early.last_date - timedelta(days=1)
        before = sample_demand.ledgers[name]
        assert ledger.on_hand_close.tolist() == before.on_hand_close[:-1].tolist()
    assert early_demand.calendar.origin == early.last_date


def test_the_sheet_counts_on_what_will_be_there_tomorrow(
    early: Records, early_demand: DemandModel, sample_demand: DemandModel
) -> None:
    """Shelf at the count less what is on its last day: bounds that hold whoever took what."""
    shelf = fit_shelf(early, early_demand)
    settings = PlanSettings(search_paths=16, judge_paths=16, screen_paths=8, finalists=1, leaders=1)
    plan = plan_bakes(early, early_demand, shelf, settings=settings)
    sheet = pan_up_sheet(plan, early_demand)
    assert sheet.counted_early
    assert "without the units on their last day" in sheet.basis
    assert sheet.evening == early.last_date
    for line in plan.lines:
        ledger, today = early_demand.ledgers[line.line.name], early_demand.today[line.line.name]
        whole = sample_demand.ledgers[line.line.name]
        assert today.baked == whole.baked[-1]
        assert today.sold <= whole.sold[-1]
        on_shelf = int(ledger.on_hand_close[-1]) + today.baked - today.sold
        young = int(whole.baked[len(whole.baked) - line.line.shelf_life_days + 1 :].sum())
        on_hand = int(line.stock_by_age.sum())
        assert on_hand <= min(on_shelf, young)
        if young == 0:
            assert on_hand == 0
    rows = {row["product"]: row["on_hand_units"] for row in sheet.batches.iter_rows(named=True)}
    by_name = {line.line.name: line for line in plan.lines}
    assert rows == {name: int(by_name[name].stock_by_age.sum()) for name in rows}


def test_shoppers_after_the_count_leave_less(early: Records, early_demand: DemandModel) -> None:
    shelf = fit_shelf(early, early_demand)
    now = shelf.stock_by_age(LINE, 300, 1)
    tonight = shelf.stock_by_age(LINE, 300, 1, np.full(300, 4))
    gone = (now - tonight).sum(axis=0)
    assert (gone >= 0).all()
    assert (gone <= 4).all()
    assert gone.sum() > 0
