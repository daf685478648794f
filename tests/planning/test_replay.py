"""Past weeks played again: the store's batches as they were, and those of plans made before."""

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import polars as pl
import pytest

from shrinkwise.demand.model import DemandModel
from shrinkwise.planning import replay
from shrinkwise.planning.past_weeks import PastWeeks
from shrinkwise.planning.plan import BakePlan, plan_bakes
from shrinkwise.planning.replay import replay_weeks
from shrinkwise.planning.settings import PlanSettings
from shrinkwise.records.reading import read_records
from shrinkwise.records.tables import Records
from shrinkwise.report.backtest_tables import batches_table, past_weeks_sentences

WEEKS = 12
BRIEF = PlanSettings(weeks=8, search_paths=64, judge_paths=64, polish_times=1)


@pytest.fixture(scope="module")
def records(small_folder: Path) -> Records:
    return read_records(small_folder)


@pytest.fixture(scope="module")
def past(records: Records) -> PastWeeks:
    return replay_weeks(records, WEEKS, settings=BRIEF)


def test_a_plan_stands_for_as_many_weeks_as_it_is_judged_on(past: PastWeeks) -> None:
    assert (past.first, past.last) == (date(2026, 7, 13), date(2026, 10, 4))
    assert past.planned_before == (date(2026, 7, 13), date(2026, 9, 7))


def test_the_stores_batches_end_as_its_logs_say(records: Records, past: PastWeeks) -> None:
    """What is played for the store is baked, sold and disposed of much as it was."""
    inside = pl.col("date").is_between(past.first, past.last)
    for name, week in past.stores.items():
        own = inside & (pl.col("product") == name)
        baked = records.bakes.filter(own)["units"].sum() / WEEKS
        sold = records.sales.filter(own)["units"].sum() / WEEKS
        disposed = records.disposals.filter(own)["units"].sum() / WEEKS
        played = week.quantities
        assert played.baked.mean() == pytest.approx(baked, abs=1e-9), name
        assert (played.sold_full + played.sold_reduced).mean() == pytest.approx(sold, rel=0.02)
        assert played.disposed.mean() == pytest.approx(disposed, abs=0.02 * baked + 0.5), name


def test_what_is_wanted_is_the_same_for_both(past: PastWeeks) -> None:
    for name, store in past.stores.items():
        wanted = [
            one.quantities.sold_full + one.quantities.sold_reduced + one.quantities.unmet
            for one in (store, past.plans[name])
        ]
        assert wanted[0] == pytest.approx(wanted[1], abs=1e-9)


def test_the_plan_knows_nothing_of_the_weeks_to_come(
    records: Records, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What it is made from ends on the day before; what was wanted is told by all that came."""
    ends = []

    def plan(past: Records, demand: DemandModel, *args: Any, **settings: Any) -> BakePlan:
        last = max(getattr(past, log)["date"].max() for log in ("sales", "bakes", "disposals"))
        ends.append((last, demand.calendar.origin))
        return plan_bakes(past, demand, *args, **settings)

    monkeypatch.setattr(replay, "plan_bakes", plan)
    brief = BRIEF.model_copy(update={"weeks": 1})
    found = replay_weeks(records, 2, settings=brief)
    assert found.planned_before == (date(2026, 9, 21), date(2026, 9, 28))
    assert ends == [(day - timedelta(days=1),) * 2 for day in found.planned_before]


def test_lines_add_up_and_the_largest_saving_comes_first(past: PastWeeks) -> None:
    table = batches_table(past)
    whole, lines = table.row(0, named=True), table[1:]
    assert lines["saving_week"].is_sorted(descending=True)
    opening = float(past.opening_store.loss - past.opening_plan.loss)
    assert whole["saving_week"] == pytest.approx(lines["saving_week"].sum() + opening)
    assert whole["saving_week"] == pytest.approx(whole["loss_week_store"] - whole["loss_week_plan"])
    assert (table["saving_week_low"] <= table["saving_week"]).all()
    assert (table["saving_week"] <= table["saving_week_high"]).all()
    # every day was a baking day
    assert float(past.opening_store.labour_hours) == pytest.approx(
        7 * past.of.labour.minutes_per_baking_day / 60
    )
    answer = past_weeks_sentences(past)[0]
    assert f"{past.store_saving.mean():,.0f}" in answer.replace("-", "")


def test_a_line_without_a_bakes_log_is_not_told_of(records: Records) -> None:
    own = pl.col("product") == "Kaiser rolls"
    brief = BRIEF.model_copy(update={"weeks": 1})
    past = replay_weeks(replace(records, bakes=records.bakes.filter(~own)), 1, settings=brief)
    assert list(past.left_out) == ["Kaiser rolls"]
    assert "bakes log" in past.left_out["Kaiser rolls"]
    assert np.isfinite(past.store_saving).all()
    assert past_weeks_sentences(past)[-1].startswith(
        "Not told of Kaiser rolls: without a bakes log"
    )
