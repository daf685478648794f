"""Break-evens hold when the line is planned anew at them, and in closed form where there is one."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from offers import START, footing_of, loaf, switched

from shrinkwise.engine.policy import NO_BAKE
from shrinkwise.planning.outcome import standard_error
from shrinkwise.profile.store import Store
from shrinkwise.scenarios.break_even import BreakEven, break_even, days_break_even
from shrinkwise.scenarios.compare import Comparison, weigh
from shrinkwise.scenarios.footing import Footing
from shrinkwise.scenarios.payoff import Payoff
from shrinkwise.scenarios.pool import Pool
from shrinkwise.scenarios.scenario import Scenario
from shrinkwise.scenarios.sensitivity import LABOUR_RANGES, ranges, swing
from shrinkwise.scenarios.study import SwitchStudy, study_switches
from shrinkwise.scenarios.terms import Terms

LOAF, ROLLS = "Italian loaf", "Kaiser rolls"
WEEK = np.array([11, 9, 13, 12, 24, 41, 18])


@pytest.fixture(scope="module")
def offers(small_footing: Footing, weighed: Callable[..., Comparison]) -> Comparison:
    store = small_footing.store
    longer = switched(store, LOAF, one_off_cost=52.0, extra_days=1, extra_cost=0.05)
    return weighed(longer, Scenario("nothing", {}))


@pytest.fixture(scope="module")
def study(offers: Comparison) -> SwitchStudy:
    found, none = study_switches(offers)
    assert found is not None
    # where no line changes there is nothing to look for
    assert none is None
    return found


def test_planned_anew_at_a_break_even_the_switch_brings_nothing(
    study: SwitchStudy, offers: Comparison, weighed: Callable[..., Comparison], small_store: Store
) -> None:
    """Not the search's own figures: the whole comparison is run again at each root."""
    asked = offers.asked[0]
    for found in study.break_evens[:3]:
        assert found.root is not None
        # a break-even price is looked for at the offer's own demand
        terms = {
            "shelf_life_days": 3,
            "dough_cost": asked.lines[LOAF].dough_cost,
            "demand_factor": 1.0,
        }
        at_root = switched(small_store, LOAF, 52.0, **(terms | {found.term: found.root}))
        brought = Payoff.of(weighed(at_root), 0).week - 1.0
        assert abs(brought.mean()) <= 2 * standard_error(brought), found.term
        assert found.difference is not None
        assert found.difference_se is not None
        assert abs(found.difference) <= 2 * found.difference_se
        assert found.low is not None
        assert found.high is not None
        assert found.low < found.root < found.high


def test_a_switch_that_pays_has_room_on_every_term(study: SwitchStudy, offers: Comparison) -> None:
    cost, price, factor, days, fussy = study.break_evens
    brings = Payoff.of(offers, 0).week.mean() - 1.0
    assert [one.term for one in study.break_evens] == [
        "dough_cost",
        "price",
        "demand_factor",
        "extra_days",
        "fussy_pct",
    ]
    assert (cost.root > cost.offered) == (brings > 0)
    assert (price.root < price.offered) == (brings > 0)
    assert (factor.root < 1) == (brings > 0)
    assert (fussy.root is not None) == (brings > 0)
    # by default they take it as long as it keeps now
    assert (fussy.offered, fussy.until_day) == (0, 2)
    assert days.root is not None
    if brings > 0:
        assert days.root <= 1
    else:
        assert days.root > 1


def test_break_evens_of_a_pure_margin_are_its_own_sums() -> None:
    """A demand that is the same every week: 128 units, and what a week brings is 128 x margin.

    Present margin 4.00 - 1.10 = 2.90; the offer 4.10 - 1.25 = 2.85 with 26 once, 0.50 a week.
    """
    demand = np.tile(WEEK, 4)[:, None].repeat(32, axis=1)
    footing = footing_of(loaf(1.1, 1), demand)
    offer = switched(footing.store, "Loaf", 26.0, price=4.1, dough_cost=1.25, demand_factor=1.0)
    pool = Pool.of(weigh(footing, [offer], START, ""), 0)
    assert pool is not None
    cost, _ = break_even(pool, "dough_cost")
    price, _ = break_even(pool, "price")
    assert cost.root == pytest.approx(4.1 - 2.9 - 0.5 / WEEK.sum(), abs=1e-5)
    assert price.root == pytest.approx(1.25 + 2.9 + 0.5 / WEEK.sum(), abs=1e-5)
    # every future is the same, so there is no doubt
    assert (cost.low, cost.high) == pytest.approx((cost.root, cost.root), abs=1e-5)
    days, _ = days_break_even(pool)
    # no day more can help where nothing is thrown
    assert days == BreakEven("extra_days", 0.0)


def test_break_even_days_are_the_fewest_that_pay() -> None:
    """An offer at the present cost pays from the present life on: no extra day is needed."""
    rng = np.random.default_rng(5)
    demand = rng.poisson(np.tile(WEEK, 4)[:, None], size=(28, 32))
    footing = footing_of(loaf(1.1, 2), demand)
    offer = switched(footing.store, "Loaf", extra_days=1, dough_cost=1.09)
    pool = Pool.of(weigh(footing, [offer], START, ""), 0)
    assert pool is not None
    found, seen = days_break_even(pool)
    assert found.root == 0
    # one day fewer was looked at, and did not pay
    assert seen.best(Terms(shelf_life_days=1)).mean() < 0


def test_the_pool_gives_the_comparison_again(study: SwitchStudy, offers: Comparison) -> None:
    pool = study.offer
    (same,) = [sale for sale in pool.sales if sale.rule is pool.case.rule]
    np.testing.assert_allclose(pool.bringing(same), pool.brings, atol=1e-9)
    # a unit dearer by a cent costs a cent for every unit that is baked
    dearer = Terms(dough_cost=pool.offered.dough_cost + 0.01)
    lost = pool.brings - pool.bringing(same, dearer)
    np.testing.assert_allclose(lost, 0.01 * same.outcome.quantities.baked, atol=1e-9)


def test_the_days_on_which_only_the_line_is_baked_are_opened_for_it() -> None:
    """By itself a line opens the bakery: seven days at 60 minutes of 20 an hour."""
    demand = np.tile(WEEK, 4)[:, None].repeat(32, axis=1)
    footing = footing_of(loaf(1.1, 1), demand, minutes_per_baking_day=60.0, wage_per_hour=20.0)
    offer = switched(footing.store, "Loaf", dough_cost=1.2)
    pool = Pool.of(weigh(footing, [offer], START, ""), 0)
    assert pool is not None
    assert pool.opening(pool.case.rule, footing.store.labour) == pytest.approx(140.0)
    busy = replace(pool, days_anyway=frozenset(range(5)))
    never = replace(pool.case.rule, targets=np.full(7, NO_BAKE, np.int16))
    assert busy.opening(never, footing.store.labour) == pytest.approx(100.0)
    assert pool.opening(never, footing.store.labour) == 0.0
    # the same week on days that are never opened costs what they cost less
    (sale,) = pool.sales
    saved = pool.bringing(replace(sale, rule=never)) - pool.brings
    np.testing.assert_allclose(saved, 140.0)


def test_the_map_falls_with_cost_and_rises_with_days(study: SwitchStudy) -> None:
    assert [column.extra_days for column in study.map][:2] == [0, 1]
    for column in study.map:
        assert (np.diff(column.brings) < 0).all()
        if column.zero is not None and column.extra_cost[0] < column.zero < column.extra_cost[-1]:
            at_zero = np.interp(column.zero, column.extra_cost, column.brings)
            assert at_zero == pytest.approx(0, abs=0.5)
    for fewer, more in zip(study.map, study.map[1:], strict=False):
        assert (np.array(more.brings) >= np.array(fewer.brings)).all()


def test_swings_begin_with_the_widest_and_hold_the_offer_between(
    study: SwitchStudy, offers: Comparison
) -> None:
    widths = [one.width for one in study.swings]
    assert widths == sorted(widths, reverse=True)
    by_name = {one.assumption: one for one in study.swings}
    assert set(by_name) == {
        "dough_cost",
        "demand_factor",
        "fussy_pct",
        "shelf_life_days",
        "wage_per_hour",
        "minutes_per_bake",
        "disposal_cost",
        "demand_units_week",
        "oldest_first_share",
    }
    brings = Payoff.of(offers, 0).week.mean() - 1.0
    for name in ("dough_cost", "wage_per_hour", "minutes_per_bake", "disposal_cost"):
        low, high = sorted((by_name[name].at_low, by_name[name].at_high))
        assert low <= brings + 0.05, name
        assert high >= brings - 0.05, name
    assert by_name["dough_cost"].at_low > by_name["dough_cost"].at_high


def test_a_swing_of_the_wage_moves_both_lines() -> None:
    """As many units either way: what the wage adds to the one it adds to the other, by hand.

    Twice as many bakes under a minute cost would not cancel; here neither bakes more.
    """
    demand = np.tile(WEEK, 4)[:, None].repeat(32, axis=1)
    footing = footing_of(
        loaf(1.1, 1), demand, minutes_per_unit=0.6, minutes_per_bake=3.0, wage_per_hour=20.0
    )
    offer = switched(footing.store, "Loaf", dough_cost=1.2)
    pool = Pool.of(weigh(footing, [offer], START, ""), 0)
    assert pool is not None
    found = [swing(pool, name, ends) for name, ends in ranges(pool).items()][1:]
    assert [(one.assumption, one.low, one.high) for one in found] == [
        ("wage_per_hour", 16.0, 24.0),
        ("minutes_per_bake", 1.5, 4.5),
    ]
    for one in found:
        assert (one.at_low, one.at_high) == pytest.approx((-12.8, -12.8))
        assert not one.turns(-12.8)
    # a wage that changes with the switch is no assumption of both lines
    dearer = footing.store.labour.model_copy(update={"wage_per_hour": 30.0})
    both = replace(offer, labour=dearer)
    pool = Pool.of(weigh(footing, [both], START, ""), 0)
    assert pool is not None
    assert not ranges(pool).keys() & LABOUR_RANGES.keys()
    # 10 more an hour, 128 units of 0.6 minutes and 7 bakes of 3
    assert pool.brings == pytest.approx(-12.8 - 10 * (128 * 0.6 + 21) / 60)
