"""What it costs when a weekday's target is off: by hand, and against the rule played itself."""

from dataclasses import replace

import numpy as np
import pytest

from shrinkwise.engine.policy import NO_BAKE, Days
from shrinkwise.engine.streams import split_demand
from shrinkwise.planning.curve import loss_curve
from shrinkwise.planning.futures import Futures
from shrinkwise.planning.outcome import standard_error, weighed
from shrinkwise.planning.plan import BakePlan
from shrinkwise.planning.rule import Rule, policy_of
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Labour

LINE = Line(
    name="Rye", category="breads", price=4, dough_cost=1, disposal_cost=0, shelf_life_days=1
)
NO_LABOUR = Labour(
    wage_per_hour=0, minutes_per_bake=0, minutes_per_unit=0, minutes_per_pan=0
)  # fmt: skip


def ten_a_day(life_days: int = 14) -> Futures:
    """Ten units on every day, for certain."""
    demand = np.full((life_days, 4), 10)
    days = Days(np.arange(life_days) % 7, np.ones(life_days, bool))
    return Futures(split_demand(demand, np.ones(4), 1), demand.astype(float), days)


def test_a_unit_too_few_costs_its_margin_and_one_too_many_its_dough() -> None:
    targets = np.full(7, NO_BAKE, np.int16)
    targets[[0, 3]] = 10
    curve = loss_curve(LINE, NO_LABOUR, ten_a_day(), Rule(targets))
    assert curve.weekdays == (0, 3)
    for units, extra in zip(curve.moved, curve.extra.T, strict=True):
        assert extra == pytest.approx(3.0 * -units if units < 0 else 1.0 * units)
    assert curve.extra_se == pytest.approx(np.zeros_like(curve.extra))


def test_steps_are_whole_batches_and_a_table_is_moved_as_a_whole() -> None:
    line = LINE.model_copy(update={"shelf_life_days": 2, "batch_step": 4})
    table = np.zeros((7, 30), np.int16)
    table[:] = np.maximum(12 - np.arange(30) // 4 * 4, 0)
    rule = Rule(table[:, 0].copy(), counts="units by age", batch_table=table)
    futures = ten_a_day()
    curve = loss_curve(line, NO_LABOUR, futures, rule)
    assert (curve.moved % 4 == 0).all()
    for day, by in ((2, 4), (2, -4), (5, -8)):
        moved = table.copy()
        moved[day] = np.where(table[day] > 0, np.maximum(table[day] + by, 0), 0)
        losses = [
            weighed(line, NO_LABOUR, futures, policy_of([one], futures, line)).losses[0]
            for one in (rule, replace(rule, batch_table=moved))
        ]
        at = curve.moved.tolist().index(by)
        assert curve.extra[day, at] == pytest.approx((losses[1] - losses[0]).mean())


def test_the_plans_targets_stand_near_the_bottom_of_their_curves(sample_plan: BakePlan) -> None:
    """The futures that judge are not those searched: a neighbour may be better by luck."""
    for line in sample_plan.lines:
        curve = line.curve
        assert curve.weekdays == line.rule.bake_days
        assert (curve.extra[:, curve.moved == 0] == 0).all()
        allowed = 4 * curve.extra_se + 0.01 * line.plan.money.loss.mean()
        assert (curve.extra >= -allowed).all()
        assert (curve.extra[:, [0, -1]] > 0).all()
        assert standard_error(line.saving) > 0
