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
    ({"max_batch": 0}, "max_batch must be a whole number"),
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


@pytest.mark.parametrize("rule", [TopUp((5,)), TopUp((5, -1)), TopUp((5, 5), ceiling=-1)], ids=str)
def test_a_rule_that_does_not_fit_is_refused(rule: TopUp) -> None:
    with pytest.raises(ValueError, match=r"target|ceiling"):
        top_up_policy(PROBLEM, rule)


def test_a_tolerance_must_be_positive() -> None:
    with pytest.raises(ValueError, match="tolerance"):
        solve(PROBLEM, tolerance=0.0)
