"""Batches of top-up rules by hand, and what an exact problem or a rule may not be."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from shrinkwise.engine.exact import (
    PerishableProblem,
    TopUp,
    best_top_up,
    evaluate,
    solve,
    top_up_policy,
)
from shrinkwise.engine.perishable import MOST_STATES

TWO_A_DAY = np.array([0.0, 0.0, 1.0])
PROBLEM = PerishableProblem(
    demand=[TWO_A_DAY, TWO_A_DAY],
    shelf_life=3,
    max_batch=12,
    unit_cost=1,
    bake_cost=0,
    short_cost=5,
    waste_cost=1,
    hold_cost=0,
)


def test_a_top_up_lifts_the_stock_to_the_target() -> None:
    batch = top_up_policy(PROBLEM, TopUp((10, 0)))
    assert batch[0, 1, 5] == 4
    assert batch[0, 6, 7] == 0
    assert not batch[1].any()


def test_a_ceiling_bounds_the_batch_and_steps_are_rounded_up() -> None:
    assert top_up_policy(PROBLEM, TopUp((10, 0), ceiling=3))[0, 1, 5] == 3
    by_three = replace(PROBLEM, batch_step=3)
    assert top_up_policy(by_three, TopUp((10, 0)))[0, 1, 5] == 6
    # whole steps within the ceiling
    assert top_up_policy(by_three, TopUp((10, 0), ceiling=5))[0, 1, 5] == 3


def test_the_age_term_makes_up_for_what_goes_out_of_date_too_early() -> None:
    """Five units on their last day and two sold a day: three are lost tonight, before the second
    day that the batch is for. What would be lost after that day does not matter."""
    batch = top_up_policy(PROBLEM, TopUp((10, 0), age=True))
    assert batch[0, 1, 5] == 4 + 3
    assert batch[0, 5, 1] == 4
    # the oldest are on order of the day when freshest go first: all five are lost
    freshest = replace(PROBLEM, picks="freshest")
    assert top_up_policy(freshest, TopUp((12, 0), age=True))[0, 2, 5] == 5 + 5
    # a bake every day: the next one makes up for tonight's
    daily = top_up_policy(PROBLEM, TopUp((10, 10), age=True))
    assert (daily == top_up_policy(PROBLEM, TopUp((10, 10)))).all()


def test_with_a_day_of_lead_tonight_matters_for_a_daily_bake() -> None:
    """One unit arrives, none is a day old, five are on their last day; three are lost tonight."""
    early = replace(PROBLEM, lead_days=1)
    assert top_up_policy(early, TopUp((10, 10)))[0, 1, 0, 5] == 4
    assert top_up_policy(early, TopUp((10, 10), age=True))[0, 1, 0, 5] == 4 + 3


@pytest.mark.parametrize(("busy", "more"), [(0.45, 1), (0.55, 0)])
def test_the_age_term_is_rounded_to_whole_units(busy: float, more: int) -> None:
    """One unit on its last day; it is lost unless somebody comes today."""
    problem = replace(PROBLEM, demand=[np.array([1 - busy, busy])] * 2)
    assert top_up_policy(problem, TopUp((4, 0), age=True))[0, 0, 1] == 3 + more


def test_an_age_term_pays_where_bakes_are_far_apart() -> None:
    demand = stats.nbinom(4, 4 / 7)
    pmf = np.append(demand.pmf(np.arange(20)), demand.sf(19))
    problem = replace(PROBLEM, demand=[pmf] * 2, max_batch=20, bake_cost=12.0, short_cost=8.0)
    plain, aged = best_top_up(problem), best_top_up(problem, age=True)
    assert 0 in plain.targets
    assert aged.age
    costs = [evaluate(problem, top_up_policy(problem, rule)).cost for rule in (plain, aged)]
    assert costs[1] < 0.98 * costs[0]


IMPOSSIBLE = [
    ({"demand": []}, "at least one day"),
    ({"demand": [np.array([0.5, 0.4])]}, "must sum to 1, but summed to 0.9"),
    ({"demand": [np.array([1.5, -0.5])]}, "row of probabilities"),
    ({"demand": [np.eye(2)]}, "row of probabilities"),
    ({"demand": [np.array([np.nan, 1.0])]}, "row of probabilities"),
    ({"shelf_life": 0}, "shelf_life must be a whole number of at least 1"),
    ({"shelf_life": 2.5}, "shelf_life must be a whole number"),
    ({"lead_days": 2}, "lead_days must be 0 or 1"),
    ({"picks": "newest"}, 'picks must be "oldest" or "freshest"'),
    ({"picks": 1.1}, "the share of the oldest-first, 0 to 1, but was 1.1"),
    ({"picks": 0.5, "lead_days": 1}, "known with lead_days 0 alone"),
    ({"max_batch": 0}, "max_batch must be a whole number"),
    ({"min_batch": 13}, "nothing could ever be baked"),
    ({"min_batch": 11, "batch_step": 5}, "nothing could ever be baked"),
    ({"units_per_pan": 0}, "units_per_pan must be a whole number of at least 1"),
    ({"pan_cost": -1.0}, "pan_cost must be a number of at least 0"),
    ({"bakes_on": [True]}, "yes or no for each of the 2 days, but had 1"),
    ({"max_to_sell": 12}, "goes with a share of shoppers"),
    ({"max_to_sell": 11, "picks": 0.5}, r"must be at least max_batch \(12\)"),
    ({"picks": 0.5, "max_batch": 800, "demand": [np.full(400, 1 / 400)]}, "numbers to keep"),
    ({"batch_step": 13}, "nothing could ever be baked"),
    ({"max_units_per_age": 11}, "must be at least max_batch"),
    ({"short_cost": -1.0}, "short_cost must be a number of at least 0"),
    ({"hold_cost": np.inf}, "hold_cost must be a number"),
    ({"discount": 1.0}, "discount must lie between 0 and 1"),
    ({"shelf_life": 9}, "states"),
]


@pytest.mark.parametrize(("change", "message"), IMPOSSIBLE, ids=[m for _, m in IMPOSSIBLE])
def test_an_impossible_problem_is_refused(change: dict[str, object], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        replace(PROBLEM, **change)


def test_too_many_shelves_are_counted_and_refused() -> None:
    with pytest.raises(ValueError, match=f"1,631,461,442 states .* more than the {MOST_STATES:,}"):
        replace(PROBLEM, shelf_life=9)


def test_a_cost_of_waste_may_be_what_a_unit_still_brings() -> None:
    assert solve(replace(PROBLEM, waste_cost=-0.5)).gain == pytest.approx(2.0)


def test_of_batches_that_cost_the_same_it_is_the_smallest() -> None:
    free = replace(PROBLEM, unit_cost=0, short_cost=0, waste_cost=0)
    assert not solve(free).batch.any()


@pytest.mark.parametrize(
    ("policy", "message"),
    [
        (np.zeros((2, 13), np.int32), "must have shape"),
        (np.full((2, 13, 13), 13), "multiples of 1 from 0 to 12"),
        (np.full((2, 13, 13), -1), "multiples of 1 from 0 to 12"),
        (np.zeros((2, 13, 13)), "whole units"),
    ],
)
def test_a_policy_that_does_not_fit_is_refused(policy: np.ndarray, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        evaluate(PROBLEM, policy)


def test_a_policy_off_the_batch_step_is_refused() -> None:
    with pytest.raises(ValueError, match="multiples of 3"):
        evaluate(replace(PROBLEM, batch_step=3), np.ones((2, 13, 13), np.int32))


def test_no_batch_is_smaller_than_the_smallest() -> None:
    """Rounded up to whole steps; where the ceiling leaves no such batch, nothing is baked."""
    least = replace(PROBLEM, min_batch=4, batch_step=3)
    batch = top_up_policy(least, TopUp((10, 10)))
    assert [batch[0, 0, stock] for stock in (0, 4, 5, 9, 10)] == [12, 6, 6, 6, 0]
    assert not top_up_policy(least, TopUp((10, 10), ceiling=5)).any()
    with pytest.raises(ValueError, match="a ceiling must be at least 4 units"):
        top_up_policy(least, TopUp((10, 10), ceiling=3))
    small = np.full((2, 13, 13), 3, np.int32)
    with pytest.raises(ValueError, match="from 0 to 12, but not from 1 to 5"):
        evaluate(least, small)


def test_nothing_is_baked_on_a_day_without_a_bake() -> None:
    closed = replace(PROBLEM, bakes_on=[True, False], bake_cost=1.0)
    assert not solve(closed).batch[1].any()
    assert best_top_up(closed, ceiling=True, age=True).targets[1] == 0
    with pytest.raises(ValueError, match="target 0 on days without a bake"):
        top_up_policy(closed, TopUp((10, 10)))
    with pytest.raises(ValueError, match="day 1 must be 0, since it is no day to bake on"):
        evaluate(closed, np.full((2, 13, 13), 1, np.int32))


def test_batches_stop_where_the_shelf_is_full() -> None:
    tight = replace(PROBLEM, picks=0.5, max_to_sell=13)
    batch = top_up_policy(tight, TopUp((12, 0), age=True))
    # all of the last day's units may go, which the age term makes up for as far as there is room
    assert batch[0, 1, 9] == 13 - 10
    assert not batch[0, 12, 12]
    with pytest.raises(ValueError, match="no more than 13 units to sell"):
        evaluate(tight, np.full((2, 13, 13), 12, np.int32))


def test_work_grows_with_the_shelves() -> None:
    """About a nanosecond a step: what decides whether an answer is worth waiting for."""
    assert 1e3 < PROBLEM.work < 1e5
    assert replace(PROBLEM, shelf_life=4).work > 10 * PROBLEM.work
    mixed = replace(PROBLEM, picks=0.5)
    assert replace(mixed, shelf_life=4).work > 10 * mixed.work
    assert replace(mixed, max_to_sell=14).work < mixed.work


@pytest.mark.parametrize("rule", [TopUp((5,)), TopUp((5, -1)), TopUp((5, 5), ceiling=-1)], ids=str)
def test_a_rule_that_does_not_fit_is_refused(rule: TopUp) -> None:
    with pytest.raises(ValueError, match=r"target|ceiling"):
        top_up_policy(PROBLEM, rule)


def test_a_tolerance_must_be_positive() -> None:
    with pytest.raises(ValueError, match="tolerance"):
        solve(PROBLEM, tolerance=0.0)
    with pytest.raises(ValueError, match="tolerance"):
        evaluate(PROBLEM, np.zeros((2, 13, 13), np.int32), tolerance=0.0)
