"""Switches whose answer is known without a simulation."""

import numpy as np
import pytest
from offers import START, footing_of, loaf, switched

from shrinkwise.profile.line import Line
from shrinkwise.scenarios.compare import Comparison, weigh
from shrinkwise.scenarios.payoff import Payoff

WEEKS, PATHS = 4, 48


def drawn_demand() -> np.ndarray:
    rng = np.random.default_rng(3)
    mean = np.tile([11.0, 9.0, 13.0, 12.0, 24.0, 41.0, 18.0], WEEKS)[:, None]
    return rng.negative_binomial(10, 10 / (10 + mean), size=(7 * WEEKS, PATHS))


def newsvendor_week(line: Line, demand: np.ndarray) -> np.ndarray:
    """Result of a week of each path under each weekday's critical fractile of all its draws.

    A life of one day: what is left of a day is thrown, so that each day stands alone. Profit =
    price x min(demand, batch) - dough cost x batch - disposal cost x what is left.
    """
    fractile = line.unit_margin / (line.price + line.disposal_cost)
    by_weekday = demand.reshape(WEEKS, 7, PATHS)
    draws = by_weekday.transpose(1, 0, 2).reshape(7, -1)
    batch = np.quantile(draws, fractile, axis=1, method="inverted_cdf")[:, None]
    sold = np.minimum(by_weekday, batch)
    profit = line.price * sold - line.dough_cost * batch - line.disposal_cost * (batch - sold)
    return profit.sum(axis=(0, 1)) / WEEKS


@pytest.mark.parametrize("dearer", [1.35, 0.85, 2.9])
def test_a_life_of_one_day_at_another_cost_is_two_newsvendors(dearer: float) -> None:
    demand = drawn_demand()
    now = loaf(1.1, 1, disposal_cost=0.2)
    footing = footing_of(now, demand)
    offer = switched(footing.store, "Loaf", dough_cost=dearer)
    made = weigh(footing, [offer], START, "")
    then = made.asked[0].lines["Loaf"]
    exact = newsvendor_week(then, demand) - newsvendor_week(now, demand)
    # a tie between two batches goes either way on a path, never in the mean
    assert Payoff.of(made, 0).week.mean() == pytest.approx(exact.mean(), rel=1e-9)


def pure_margin(life: int, **fields: float) -> tuple[Comparison, np.ndarray]:
    """A demand that is the same every week leaves nothing over and nobody without."""
    week = np.array([11, 9, 13, 12, 24, 41, 18])
    demand = np.tile(week, WEEKS)[:, None].repeat(PATHS, axis=1)
    footing = footing_of(loaf(1.1, life), demand)
    return weigh(footing, [switched(footing.store, "Loaf", **fields)], START, ""), week


@pytest.mark.parametrize("life", [1, 2])
def test_without_waste_and_cost_of_a_bake_the_switch_is_the_margin(life: int) -> None:
    made, week = pure_margin(life, dough_cost=1.25, price=4.1, demand_factor=1.0)
    exact = (0.10 - 0.15) * week.sum()
    np.testing.assert_allclose(Payoff.of(made, 0).week, exact, rtol=1e-12)
    assert made.now.best.money.loss.max() == 0.0


def test_a_longer_life_that_nobody_needs_is_worth_nothing() -> None:
    made, _ = pure_margin(1, extra_days=2)
    assert not Payoff.of(made, 0).week.any()
