"""What the store allows and asks of its bakes is kept: floor, smallest and largest bake, days."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from shrinkwise.demand.model import fit_demand
from shrinkwise.engine.policy import NO_BAKE, Days
from shrinkwise.planning import judging
from shrinkwise.planning.futures import Futures
from shrinkwise.planning.line_plan import LinePlan
from shrinkwise.planning.plan import BakePlan, plan_bakes
from shrinkwise.planning.rule import Rule
from shrinkwise.planning.settings import PlanSettings
from shrinkwise.planning.two_sets import Judging
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Labour, Store
from shrinkwise.records.reading import read_records
from shrinkwise.report.plan_tables import options_table
from shrinkwise.report.words import doubts
from shrinkwise.shelf.model import fit_shelf

QUICK = PlanSettings(weeks=6, search_paths=64, judge_paths=128, finalists=3)
LINE = "Kaiser rolls"
Planned = Callable[..., BakePlan]


@dataclass(frozen=True)
class Settings:
    """Lines of store.toml: for the store, and for the Kaiser rolls."""

    store: str = ""
    line: str = ""


@pytest.fixture
def planned(small_copy: Callable[[], Path]) -> Planned:
    """Plans the small store with further settings."""

    folder = small_copy()
    path = folder / "store.toml"
    plain = path.read_text(encoding="utf-8")

    def plan(settings: Settings) -> BakePlan:
        text = plain.replace("week_start =", f"{settings.store}\nweek_start =", 1)
        named = f'name = "{LINE}"\n'
        path.write_text(text.replace(named, f"{named}{settings.line}\n"), encoding="utf-8")
        records = read_records(folder)
        demand = fit_demand(records)
        return plan_bakes(records, demand, fit_shelf(records, demand), settings=QUICK)

    return plan


def of(plan: BakePlan, name: str = LINE) -> LinePlan:
    return next(line for line in plan.lines if line.line.name == name)


def test_a_floor_is_reached_where_it_can_be_and_costs_something(planned: Planned) -> None:
    """Of the same futures; a floor for the store is one for every line without its own."""
    free = planned(Settings())
    held = planned(Settings(store="in_stock_floor_pct = 97", line="in_stock_floor_pct = 90"))
    for line in held.lines:
        floor = line.line.in_stock_floor_pct
        assert floor == (90 if line.line.name == LINE else 97)
        # the search keeps the floor on its own futures: others may lie a little lower
        assert line.plan.in_stock_pct.mean() > floor - 1.5
        before = of(free, line.line.name).plan
        if before.in_stock_pct.mean() < floor - 1.5:
            assert line.plan.money.loss.mean() > before.money.loss.mean()
    assert np.mean([line.plan.in_stock_pct.mean() for line in free.lines]) < 95


def test_a_floor_out_of_reach_is_said(planned: Planned) -> None:
    plan = planned(Settings(line="in_stock_floor_pct = 100\nmax_batch = 6"))
    assert of(plan).plan.in_stock_pct.mean() < 99
    assert any(f"{LINE} cannot be in stock on 100% of open days" in text for text in doubts(plan))


def test_no_bake_is_smaller_or_larger_than_allowed(planned: Planned) -> None:
    """Rounded inwards to whole steps of the line."""
    plan = of(planned(Settings(line="min_batch = 13\nmax_batch = 20")))
    step = plan.line.batch_step
    assert (plan.line.least_batch, plan.line.most_batch) == (
        -(-13 // step) * step,
        20 // step * step,
    )
    flows = plan.plan.flows
    assert np.all(flows.baked >= flows.bakes * plan.line.least_batch)
    assert np.all(flows.baked <= flows.bakes * plan.line.most_batch)
    assert flows.bakes.any()


def test_no_bake_on_a_day_that_is_ruled_out(planned: Planned) -> None:
    plan = of(planned(Settings(line='no_bake_days = ["sunday", "monday", "wednesday"]')))
    assert plan.rule.bake_days
    assert not {0, 2, 6} & set(plan.rule.bake_days)
    assert not any({0, 2, 6} & set(option.rule.bake_days) for option in plan.options)


def test_of_equal_rules_the_simplest_is_chosen(monkeypatch: pytest.MonkeyPatch) -> None:
    """No labour, no demand and dough for nothing: every rule costs nothing."""
    line = Line(
        name="Rye loaf", category="breads", price=4, dough_cost=0, shelf_life_days=2, filled=False
    )
    store = Store(
        name="Corner store", currency="USD", country="US", lines=(line,),
        labour=Labour(wage_per_hour=0),
    )  # fmt: skip
    days = Days(np.arange(14) % 7, np.ones(14, bool))
    nobody = Futures(np.zeros((2, 14, 16), np.int16), np.zeros((14, 16)), days)

    def rule(need: int, *bake_days: int) -> Rule:
        return Rule(np.where(np.isin(np.arange(7), bake_days), 2, NO_BAKE).astype(np.int16), need)

    found = [rule(9, 0), rule(9, 0, 3), rule(9, 1)]
    monkeypatch.setattr(judging, "best_rules", lambda *_: found)
    choice = judging.chosen_rule(line, store, Judging(nobody, nobody), (1,), QUICK)
    assert choice.rule.bake_days == (1,)
    found.append(rule(1, 0, 3))
    assert (
        judging.chosen_rule(line, store, Judging(nobody, nobody), (1,), QUICK).rule.least_need == 1
    )


def test_options_begin_with_the_lowest_loss_and_hold_the_plan(sample_plan: BakePlan) -> None:
    table = options_table(sample_plan)
    assert table.group_by("product").agg(pl.col("bake_days").n_unique())["bake_days"].min() == 5
    for (name,), rows in table.group_by("product", maintain_order=True):
        assert rows["loss_week"].is_sorted(), name
        assert rows["difference_week"][0] == 0
        planned_rows = rows.filter(rows["planned"] == "yes")
        assert planned_rows.height == 1, name
        # ties within the noise go to fewer bakes, and to nothing that costs more than that
        difference, error = planned_rows.select("difference_week", "difference_week_se").row(0)
        assert difference == 0 or difference <= error
