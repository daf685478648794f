"""Where the exact problem becomes a textbook's: newsvendor, (s, S), Wagner-Whitin.

Sources: L. V. Snyder, Z.-J. M. Shen, Fundamentals of Supply Chain Theory, 2nd ed., Wiley 2019,
examples and problems as numbered below, with the digits carried by the package stockpyl 1.0.2;
Y.-S. Zheng, A. Federgruen, Finding optimal (s, S) policies is about as simple as evaluating a
single policy, Operations Research 39(4), 1991, doi 10.1287/opre.39.4.654; the fourth lot-sizing
case from the tests of R. Rossi's inventoryanalytics.
"""

import warnings
from typing import Any, Literal

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from shrinkwise.engine.exact import PerishableProblem, TopUp, evaluate, solve, top_up_policy

with warnings.catch_warnings():
    # an outside package may be behind the warnings of its own dependencies
    warnings.simplefilter("ignore")
    from stockpyl.ss import s_s_discrete_exact

Floats = NDArray[np.float64]
FREE: dict[str, Any] = {"unit_cost": 0, "bake_cost": 0, "waste_cost": 0, "hold_cost": 0}


def poisson(mean: float, most: int) -> Floats:
    """Probabilities of 0 to `most`, what lies beyond on the last."""
    demand = stats.poisson(mean)
    return np.append(demand.pmf(np.arange(most)), demand.sf(most - 1))


# source, cost of a unit left, of one short, demand, best batch, its cost, another batch, its cost
NEWSVENDORS = [
    ("Example 4.7, K = 0", 1, 4, poisson(6, 60), 8, 3.570106945770946, 5, 6.590296024616344),
    ("Problem 4.8(a)", 200, 270, poisson(18, 100), 19, 786.0884409351115, 13, 1445.751062891969),
    ("Problem 4.7(b)", 5e5, 1e6, np.array([0, 0.25, 0.05, 0.1, 0.2, 0.15, 0.1, 0.1, 0.05]),
     5, 1225000, 3, 1725000),
]  # fmt: skip


@pytest.mark.parametrize("picks", ["oldest", "freshest"])
@pytest.mark.parametrize("lead", [0, 1])
@pytest.mark.parametrize("case", NEWSVENDORS, ids=[case[0] for case in NEWSVENDORS])
def test_a_life_of_one_day_is_the_newsvendor(
    case: tuple[Any, ...], lead: Literal[0, 1], picks: Literal["oldest", "freshest"]
) -> None:
    _, left, short, demand, best, best_cost, other, other_cost = case
    costs = {**FREE, "waste_cost": left, "short_cost": short}
    problem = PerishableProblem(
        demand=[demand], shelf_life=1, lead_days=lead, picks=picks, max_batch=40, **costs
    )
    plan = solve(problem)
    assert (plan.batch == best).all()
    assert plan.gain == pytest.approx(best_cost, rel=1e-9)
    # with one day on sale nothing is left in the morning, so that a fixed batch is a policy
    rates = evaluate(problem, np.full_like(plan.batch, other))
    assert rates.cost == pytest.approx(other_cost, rel=1e-9)


def test_price_and_what_a_unit_left_still_brings_make_the_published_profit() -> None:
    """Example 4.2 with Poisson(50): 33.20276478819082 a day."""
    costs = {**FREE, "price": 1, "unit_cost": 0.3, "waste_cost": -0.12, "short_cost": 0}
    problem = PerishableProblem(demand=[poisson(50, 150)], shelf_life=1, max_batch=100, **costs)
    assert solve(problem).gain == pytest.approx(-33.20276478819082, rel=1e-9)


def test_the_second_opinion_on_a_cost_per_bake_is_the_published_one() -> None:
    """The table of Zheng and Federgruen, h = 1, p = 9, K = 64, Poisson demand of 10: s, S, cost."""
    s, S, cost = s_s_discrete_exact(1, 9, 64, True, 10)
    assert (s, S) == (6, 40)
    assert cost == pytest.approx(35.022, abs=5e-4)


# probabilities of 1, 2, ... units a day; cost of a bake
LOTS = [([0.3, 0.4, 0.3], 4), ([0.5, 0.5], 3), ([0.6, 0.1, 0.3], 6)]


@pytest.mark.parametrize(("demand", "per_bake"), LOTS, ids=str)
def test_a_long_life_with_a_cost_per_bake_is_s_and_S(  # noqa: N802
    demand: list[float], per_bake: float
) -> None:
    """Published with backorders, here sales are lost: the same when s is not below 0.

    Then every day that begins with nothing, or with orders waiting, is lifted to S, and each unit
    short has cost p once in both. The life is long enough when at least one unit is sold each
    day and S is not above it: all units are gone in time. The published table itself has S of 40
    and more, which would need a life, and with it shelves, beyond all counting.
    """
    # stockpyl 1.0.2 leaves the last demand out of its costs: let that be one that never comes
    pmf = [0.0, *demand, 0.0]
    s, S, cost = s_s_discrete_exact(1, 9, per_bake, False, demand_hi=len(pmf) - 1, demand_pmf=pmf)
    life = 6
    assert 0 <= s < S <= life
    costs = {**FREE, "bake_cost": per_bake, "hold_cost": 1, "short_cost": 9}
    problem = PerishableProblem(demand=[np.array(pmf)], shelf_life=life, max_batch=life, **costs)
    plan = solve(problem)
    assert plan.gain == pytest.approx(cost, abs=1e-6)
    seen = 0
    for shelf in np.ndindex(problem.shelf_shape):
        # units of the last places that one sale a day clears in time
        if sum(shelf) <= S and all(
            sum(shelf[place:]) <= life - 1 - place for place in range(life - 1)
        ):
            stock = sum(shelf)
            assert plan.batch[(0, *shelf)] == (S - stock if stock <= s else 0)
            seen += 1
    assert seen > 50


# demand and cost per night of so many units at once, cost of a bake, cost of all, largest batch
LOT_SIZES = [
    ("Example 3.9", [9, 12, 8, 7], 10 * 2.0, 500.0, 1380.0, 36),
    ("Problem 3.27", [15, 10, 8, 20], 10 * 0.8, 120.0, 424.0, 33),
    ("inventoryanalytics", [1, 2, 3, 4], 10 * 1.0, 30.0, 110.0, 10),
]


@pytest.mark.parametrize("case", LOT_SIZES, ids=[case[0] for case in LOT_SIZES])
def test_a_certain_demand_is_lot_sizing(case: tuple[Any, ...]) -> None:
    """The published horizon ends: days without demand keep one round of it from the next."""
    _, demand, per_night, per_bake, cost, most = case
    days = [*demand, *[0] * (len(demand) - 1)]
    costs = {**FREE, "bake_cost": per_bake, "hold_cost": per_night, "short_cost": 10 * per_bake}
    problem = PerishableProblem(
        demand=[np.eye(units + 1)[units] for units in days],
        shelf_life=len(demand),
        max_batch=most,
        **costs,
    )
    plan = solve(problem)
    assert plan.gain is not None
    assert plan.gain * len(days) == pytest.approx(cost, rel=1e-9)
    rates = evaluate(problem, plan.batch)
    assert rates.wasted == pytest.approx(0, abs=1e-9)
    assert rates.short == pytest.approx(0, abs=1e-9)


def test_a_chain_that_goes_round_in_circles_comes_to_rest() -> None:
    """One unit a day, a bake costs 10 and a night 1: four days' worth, by the square-root rule.

    With n days' worth in a bake the cost per day is 10 / n + (n - 1) / 2, the least of which is
    at n = 4 and 5: 4 either way.
    """
    costs = {**FREE, "bake_cost": 10, "hold_cost": 1, "short_cost": 50}
    problem = PerishableProblem(demand=[np.array([0, 1])], shelf_life=5, max_batch=5, **costs)
    plan = solve(problem)
    assert plan.gain == pytest.approx(4.0, abs=1e-6)
    rates = evaluate(problem, plan.batch)
    assert rates.cost == pytest.approx(4.0, abs=1e-6)
    # topping up every day does not wait
    daily = evaluate(problem, top_up_policy(problem, TopUp((4,))))
    assert daily.cost == pytest.approx(13.0)
