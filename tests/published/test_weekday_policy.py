"""A life of three days and a demand of its own on each weekday: the optimal orders come out.

Source: M. Mirjalili, Data-driven modelling and control of hospital blood inventory, PhD thesis,
University of Toronto, 2022, Fig. 6.1; also H. Abouee-Mehrizi, M. Mirjalili, V. Sarhangian,
arXiv 2307.09395. Arrival before demand, oldest first, lost sales; holding is counted on the units
that are about to go out of date as well.
"""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from shrinkwise.engine.exact import (
    PerishableProblem,
    best_top_up,
    evaluate,
    solve,
    top_up_policy,
)

# negative binomial, Monday to Sunday
SIZES = [3.497361, 10.985837, 7.183407, 11.064622, 5.930222, 5.473242, 2.193797]
MEANS = [5.660569, 6.922555, 6.504332, 6.165049, 5.816060, 3.326408, 3.426814]

# orders on a Monday: rows 0 to 10 units with two days left, columns 0 to 10 with one day left
MONDAY = [
    [12, 11, 10, 9, 8, 8, 7, 6, 5, 4, 3],
    [11, 10, 9, 8, 7, 7, 6, 5, 4, 3, 2],
    [10, 9, 8, 7, 6, 6, 5, 4, 3, 2, 1],
    [9, 8, 7, 6, 5, 5, 4, 3, 2, 1, 0],
    [8, 7, 6, 5, 5, 4, 3, 2, 1, 0, 0],
    [7, 6, 5, 4, 4, 3, 2, 1, 0, 0, 0],
    [6, 5, 4, 4, 3, 2, 1, 0, 0, 0, 0],
    [5, 4, 4, 3, 2, 1, 0, 0, 0, 0, 0],
    [4, 3, 3, 2, 1, 0, 0, 0, 0, 0, 0],
    [3, 3, 2, 1, 0, 0, 0, 0, 0, 0, 0],
    [3, 2, 1, 0, 0, 0, 0, 0, 0, 0, 0],
]


def lumped(size: float, mean: float) -> NDArray[np.float64]:
    """Probabilities of 0 to 20 with what lies beyond on 20."""
    demand = stats.nbinom(size, size / (size + mean))
    return np.append(demand.pmf(np.arange(20)), demand.sf(19))


PROBLEM = PerishableProblem(
    demand=[lumped(size, mean) for size, mean in zip(SIZES, MEANS, strict=True)],
    shelf_life=3,
    max_batch=20,
    unit_cost=0,
    bake_cost=0,
    short_cost=20,
    waste_cost=5,
    hold_cost=1,
    hold_counts_waste=True,
    discount=0.95,
    max_units_per_age=20,
)


def test_all_orders_of_a_monday() -> None:
    assert solve(PROBLEM).batch[0, :11, :11].tolist() == MONDAY


def test_another_rule_for_holding_is_seen_in_the_orders() -> None:
    """The other side: the table can tell whether units about to go are held."""
    other = solve(replace(PROBLEM, hold_counts_waste=False))
    assert other.batch[0, :11, :11].tolist() != MONDAY


def test_a_top_up_with_a_ceiling_and_an_age_term_is_within_a_third_of_a_percent() -> None:
    """Judged by the long-run cost per day; 0.3% is a bound of our own."""
    problem = replace(PROBLEM, discount=None)
    optimum = solve(problem)
    assert optimum.gain is not None
    rule = best_top_up(problem, ceiling=True, age=True)
    cost = evaluate(problem, top_up_policy(problem, rule)).cost
    assert optimum.gain - optimum.error <= cost <= 1.003 * optimum.gain
