"""Units out of date per day, exact, against published formulas and bounds.

Sources: D. Chazan, S. Gal, A Markovian model for a perishable product inventory, Management
Science 23(5), 1977 (the statement from memory); H. Kaspi, D. Perry, Inventory systems of
perishable commodities, Advances in Applied Probability 15(3), 1983; J. Keilson, A. Seidmann,
Product selection policies for perishable inventory systems, 1990 (titles from memory).
"""

from dataclasses import replace
from math import exp

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from shrinkwise.engine.exact import PerishableProblem, TopUp, evaluate, top_up_policy

# life, S: lower bound, exact (computed), upper bound; demand Poisson(4) a day, topped up to S
BOUNDS = {
    (2, 5): (0.079561, 0.122524, 0.228945),
    (2, 6): (0.175179, 0.248536, 0.347997),
    (2, 7): (0.331866, 0.435714, 0.564732),
    (2, 8): (0.558346, 0.684584, 0.781467),
    (2, 10): (1.212932, 1.343467, 1.410304),
    (2, 12): (2.064913, 2.159124, 2.195435),
    (3, 6): (0.010280, 0.023312, 0.109894),
    (3, 8): (0.055389, 0.105093, 0.268629),
}


def poisson(mean: float) -> NDArray[np.float64]:
    demand = stats.poisson(mean)
    return np.append(demand.pmf(np.arange(40)), demand.sf(39))


def problem(mean: float, life: int, most: int) -> PerishableProblem:
    """The costs do not matter here."""
    return PerishableProblem(
        demand=[poisson(mean)],
        shelf_life=life,
        max_batch=most,
        unit_cost=0,
        bake_cost=0,
        short_cost=1,
        waste_cost=1,
        hold_cost=0,
    )


@pytest.mark.parametrize(("life", "target"), BOUNDS)
def test_topped_up_every_day_it_is_the_exact_rate_within_the_bounds(life: int, target: int) -> None:
    lower, exact, upper = BOUNDS[life, target]
    asked = problem(4, life, target)
    wasted = evaluate(asked, top_up_policy(asked, TopUp((target,)))).wasted
    assert wasted == pytest.approx(exact, abs=1e-6)
    assert lower < wasted < upper


def test_freshest_first_breaks_the_upper_bound() -> None:
    """The bounds are those of oldest first: the test above can tell the two apart."""
    asked = replace(problem(4, 2, 7), picks="freshest")
    assert evaluate(asked, top_up_policy(asked, TopUp((7,)))).wasted > BOUNDS[2, 7][2]


# supply and demand per unit of time, life; out of date and lost per unit of time, both Poisson
POISSON_SUPPLY = [
    (1.0, 1.0, 3, 0.25, 0.25),
    (1.0, 1.0, 5, 0.166667, 0.166667),
    (4.0, 4.0, 2, 0.444444, 0.444444),
    (1.2, 1.0, 5, 0.288420, 0.088420),
]


@pytest.mark.parametrize(("supply", "demand", "life", "spoilt", "lost"), POISSON_SUPPLY)
def test_a_supply_like_clockwork_spoils_less_than_a_poisson_one(
    supply: float, demand: float, life: float, spoilt: float, lost: float
) -> None:
    """Batches cannot come at random here: one unit each 1 / supply bounds the formula from below.

    In steps of that length the exact problem is the continuous one: units come and go at their
    ends, and the order of sales within a step does not matter.
    """
    grown = exp((supply - demand) * life)
    both = life if supply == demand else (grown - 1) / (supply - demand)
    assert spoilt == pytest.approx(grown / (1 / supply + both), abs=1e-6)
    assert lost == pytest.approx(demand / supply / (1 / supply + both), abs=1e-6)
    steps = round(life * supply)
    assert steps == pytest.approx(life * supply)
    asked = problem(demand / supply, steps, 1)
    rates = evaluate(asked, np.ones((1, *asked.shelf_shape), np.int32))
    assert 0.25 * spoilt < supply * rates.wasted < spoilt
    assert 0.25 * lost < supply * rates.short < lost
