"""Frozen dough by the case, and waste by weight: figures that are known without a simulation."""

from collections.abc import Callable

import numpy as np
import pytest
from offers import START, footing_of, loaf, switched
from pydantic import ValidationError

from shrinkwise.money.week import Quantities
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Store
from shrinkwise.report.comparison_tables import (
    comparison_measures,
    comparison_table,
    weekly_difference_table,
)
from shrinkwise.report.decision import decision
from shrinkwise.report.freezer import freezer_table
from shrinkwise.scenarios.compare import Comparison, weigh
from shrinkwise.scenarios.payoff import Payoff

WEEKS, PATHS = 4, 24
FOUR_A_DAY = np.full((7 * WEEKS, PATHS), 4)


def frozen(**settings: float) -> Line:
    return Line.model_validate(loaf(1.1, 1, 0.2).model_dump() | settings)


@pytest.mark.parametrize(
    ("case", "weeks", "thrown"), [(280, 10, 0.0), (281, 10, 0.1), (420, 10, 14.0), (56, 1, 28.0)]
)
def test_a_case_that_outlives_its_days_is_thrown(case: float, weeks: float, thrown: float) -> None:
    """28 units a week without any doubt: a case of 420 that keeps 10 weeks is 140 units too many,
    14 a week, which cost their dough and their disposal, 1.30 a unit."""
    footing = footing_of(loaf(1.1, 1, 0.2), FOUR_A_DAY)
    offer = switched(footing.store, "Loaf", case_units=case, freezer_weeks=weeks)
    made = weigh(footing, [offer], START, "")
    payoff = Payoff.of(made, 0)
    np.testing.assert_allclose(payoff.week, -1.3 * thrown, atol=1e-9)
    np.testing.assert_allclose(payoff.by_week, -1.3 * thrown, atol=1e-9)
    assert payoff.bad_week == pytest.approx(-1.3 * thrown)
    week = made.scenarios[0].best
    np.testing.assert_allclose(week.money.result + week.money.loss, 28 * 2.9)
    row = freezer_table(made).row(0, named=True)
    assert row["freezer_units_week"] == pytest.approx(thrown)
    assert row["order_weeks"] == pytest.approx(case / 28)
    assert row["cases_week"] == pytest.approx((28 + thrown) / case)
    said = [one for one in decision(made, 0, None).cautions if "too slow for its case" in one]
    assert len(said) == (thrown > 0.05)


def test_the_smallest_order_is_what_lies_in_the_freezer() -> None:
    line = frozen(case_units=60, freezer_weeks=6, min_order_cases=4)
    assert (line.order_units, line.least_pace) == (240, 40.0)
    paces = np.array([0.0, 10.0, 40.0, 90.0])
    nothing = np.zeros(4)
    week = Quantities(paces, *[nothing] * 8).from_freezer(line)
    # never baked, it is not ordered
    np.testing.assert_allclose(week.freezer_disposed, [0.0, 30.0, 0.0, 0.0])
    assert frozen(case_units=60).least_pace == 0.0


@pytest.mark.parametrize(
    ("settings", "said"),
    [
        ({"freezer_weeks": 8}, "freezer_weeks needs case_units"),
        ({"min_order_cases": 2}, "min_order_cases needs case_units"),
        ({"case_units": 0}, "greater than 0"),
        ({"unit_weight_kg": -1}, "greater than 0"),
    ],
)
def test_a_freezer_without_a_case(settings: dict[str, float], said: str) -> None:
    with pytest.raises(ValidationError, match=said):
        frozen(**settings)


def test_a_line_that_is_too_slow_for_its_case_may_bake_what_would_be_thrown() -> None:
    """Dough that is thrown anyway costs nothing more when it is baked: an empty shelf on one day
    in two is then the worse choice, by the newsvendor's own rule."""
    rng = np.random.default_rng(2)
    demand = rng.poisson(2.0, size=(7 * WEEKS, PATHS))
    # fractile 2 / 4.2: two a day are baked, unless the dough of three is there anyway
    footing = footing_of(loaf(2.0, 1, 0.2), demand)
    offer = switched(footing.store, "Loaf", case_units=210, freezer_weeks=10)
    made = weigh(footing, [offer], START, "")
    now, then = (
        case.lines["Loaf"].outcome.quantities.baked.mean() for case in (made.now, made.scenarios[0])
    )
    assert then > 1.2 * now


@pytest.fixture(scope="module")
def offers(weighed: Callable[..., Comparison], small_store: Store) -> Comparison:
    return weighed(switched(small_store, "Italian loaf", extra_days=1, extra_cost=0.03))


def test_waste_is_weighed_where_every_line_has_a_weight(offers: Comparison) -> None:
    week, lines = offers.scenarios[0].best, offers.scenarios[0].lines.values()
    weights = [case.line.unit_weight_kg for case in lines]
    assert None not in weights
    by_hand = sum(
        weight * case.outcome.quantities.disposed.mean()
        for weight, case in zip(weights, lines, strict=True)
    )
    assert week.waste_kg is not None
    assert week.waste_kg.mean() == pytest.approx(by_hand)
    assert "Waste [kg a week]" in comparison_measures(offers, 0, False)["measure"].to_list()
    without = weigh(footing_of(loaf(1.1, 1), FOUR_A_DAY), [], START, "")
    assert without.now.best.waste_kg is None


def test_single_weeks_make_up_the_mean_week(offers: Comparison) -> None:
    for under_habit in (False, True):
        payoff = Payoff.of(offers, 0, under_habit)
        assert payoff.by_week.shape == (6, 64)
        np.testing.assert_allclose(payoff.by_week.mean(axis=0), payoff.week, atol=1e-9)
        # weeks differ more than the futures' means do
        assert payoff.by_week.std() > payoff.week.std()
        assert payoff.bad_week < np.quantile(payoff.week, 0.1)
        assert (payoff.by_week < payoff.bad_week).mean() == pytest.approx(0.1, abs=0.01)
    table = weekly_difference_table(offers)
    bad = table.filter(quantile_pct=10)["difference_week"]
    best, habit = (Payoff.of(offers, 0, under).bad_week for under in (False, True))
    assert bad.to_list() == pytest.approx([best, habit])
    rows = comparison_table(offers).filter(measure="bad_week")
    assert rows["difference"].to_list() == pytest.approx([best, habit])
    assert any("bad week in ten" in one for one in decision(offers, 0, None).how_sure)
