"""Assumptions at the ends of their ranges together: by hand, and against a worked example."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from offers import START, footing_of, loaf, switched

from shrinkwise.report.study_tables import combinations_table, swings_table
from shrinkwise.report.study_words import together_text
from shrinkwise.scenarios.combinations import Combination, Combinations, combinations
from shrinkwise.scenarios.compare import Comparison, weigh
from shrinkwise.scenarios.pool import Pool
from shrinkwise.scenarios.study import SwitchStudy, study_switches
from shrinkwise.scenarios.terms import Terms

WEEK = np.array([11, 9, 13, 12, 24, 41, 18])


@pytest.fixture(scope="module")
def study(weighed: Callable[..., Comparison], small_footing) -> SwitchStudy:  # type: ignore[no-untyped-def]
    offer = switched(small_footing.store, "Italian loaf", extra_days=1, extra_cost=0.05)
    (found,) = study_switches(weighed(offer))
    assert isinstance(found, SwitchStudy)
    return found


def test_money_alone_adds_up_by_hand() -> None:
    """128 units a week: 10 cents of price either way are 12.80, 5 cents of dough cost 6.40, and
    the squares of these are as 80 to 20."""
    demand = np.tile(WEEK, 4)[:, None].repeat(32, axis=1)
    footing = footing_of(loaf(1.11, 1), demand)
    offer = switched(footing.store, "Loaf", price=4.1, dough_cost=1.25, demand_factor=1.0)
    pool = Pool.of(weigh(footing, [offer], START, ""), 0)
    assert pool is not None
    found = combinations(pool, {"price": (4.0, 4.2), "dough_cost": (1.2, 1.3)})
    # against a present margin of 2.89
    expected = 128 * (np.array([[2.8, 2.7], [3.0, 2.9]]) - 2.89)
    np.testing.assert_allclose(found.brings, expected, atol=1e-9)
    assert found.own_pct == pytest.approx({"price": 80.0, "dough_cost": 20.0})
    assert found.worst == Combination({"price": 4.0, "dough_cost": 1.3}, pytest.approx(-24.32))
    assert found.best == Combination({"price": 4.2, "dough_cost": 1.2}, pytest.approx(14.08))
    assert (found.paying, len(found)) == (2, 4)


def test_what_is_thrown_costs_more_on_either_side() -> None:
    """By hand: so much more for every unit thrown of the offer, less that of the present line."""
    rng = np.random.default_rng(5)
    demand = rng.poisson(np.tile(WEEK, 4)[:, None], size=(28, 32))
    footing = footing_of(loaf(1.1, 1, disposal_cost=0.2), demand)
    offer = switched(footing.store, "Loaf", dough_cost=0.4, disposal_cost=0.1)
    pool = Pool.of(weigh(footing, [offer], START, ""), 0)
    assert pool is not None
    thrown = [case.outcome.quantities.disposed.mean() for case in (pool.case, pool.now)]
    assert thrown[0] > thrown[1] > 0
    moved = pool.best(Terms(disposal_cost=0.3)).mean() - pool.brings.mean()
    # the present line's moves in proportion, from 0.20 to 0.60
    assert moved == pytest.approx(-0.2 * thrown[0] + 0.4 * thrown[1])


def test_main_effects_of_a_published_factorial() -> None:
    """The pilot plant of G. E. P. Box, W. G. Hunter, J. S. Hunter, Statistics for Experimenters
    (Wiley 1978), from memory: yields of a 2^3 design in temperature, concentration and catalyst;
    effects 23, -5 and 1.5, of temperature with concentration 1.5, with catalyst 10, of the other
    two 0, of all three 0.5."""
    yields = [60, 72, 54, 68, 52, 83, 45, 80]
    # temperature changes fastest in the standard order
    brings = np.reshape(yields, (2, 2, 2)).transpose(2, 1, 0).astype(float)
    names = ("temperature", "concentration", "catalyst")
    found = Combinations(dict.fromkeys(names, (-1.0, 1.0)), brings)
    squares = np.square([23, -5, 1.5, 1.5, 10, 0, 0.5])
    expected = 100 * squares[:3] / squares.sum()
    assert found.own_pct == pytest.approx(dict(zip(names, expected, strict=True)))


def test_nothing_that_moves_has_no_own_part() -> None:
    assert Combinations({"price": (1.0, 2.0)}, np.zeros(2)).own_pct == {"price": 0.0}


def test_every_combination_is_what_the_offer_brings_on_these_terms(study: SwitchStudy) -> None:
    found = study.together
    names = {
        "dough_cost",
        "demand_factor",
        "fussy_pct",
        "shelf_life_days",
        "wage_per_hour",
        "minutes_per_bake",
        "disposal_cost",
    }
    assert found.ranges.keys() == names
    every = list(found)
    assert len(every) == len(found) == 2**7
    assert found.paying == sum(one.brings > 0 for one in every)
    assert found.worst.brings == min(one.brings for one in every)
    assert found.best.brings == max(one.brings for one in every)
    assert len({tuple(one.at.values()) for one in every}) == 2**7
    one = every[77]
    assert study.offer.best(Terms(**one.at)).mean() == pytest.approx(one.brings)
    # the worst has dear dough, fewer shoppers who are harder to please, and a day less
    for name, end in {"dough_cost": 1, "demand_factor": 0, "shelf_life_days": 0}.items():
        assert found.worst.at[name] == found.ranges[name][end]
    assert found.worst.brings < min(min(s.at_low, s.at_high) for s in study.swings[:-2])
    assert 0 < sum(found.own_pct.values()) <= 100 + 1e-9


def test_words_and_tables_of_combinations(study: SwitchStudy) -> None:
    table = combinations_table([("Offer", study)])
    assert table.height == 128
    assert table["difference_week"].is_sorted()
    assert table["difference_week"][0] == study.together.worst.brings
    own = swings_table([("Offer", study)])
    told = dict(zip(own["assumption"], own["own_pct"], strict=True))
    assert told.pop("demand_units_week") is None
    assert told.pop("oldest_first_share") is None
    assert told == study.together.own_pct
    ranges = {"dough_cost": (1.0, 1.1), "wage_per_hour": (20.0, 30.0)}

    def said(brings: list[list[float]]) -> str:
        made = Combinations(ranges, np.array(brings, dtype=float))
        return together_text(replace(study, together=made), "USD")

    assert said([[20, 18], [-8, -12]]) == (
        "All at their worse ends together: USD -12 a week; at their better ends: USD 20. It pays "
        "in 2 of 4 combinations of the ends; the dough cost decides most (99%)."
    )
    assert said([[20, 20], [20, -20]]).endswith(
        "It pays in 3 of 4 combinations of the ends; the dough cost decides more than any other "
        "(33%, 33% what they do together)."
    )
