"""Shoppers who take no unit of an offer that is older than some day on the shelf."""

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from offers import START, footing_of, loaf, switched

from shrinkwise.engine.streams import BARGAIN, FRESHEST, FUSSY, OLDEST, SWITCHING, with_fussy
from shrinkwise.errors import ScenarioError
from shrinkwise.planning.outcome import standard_error
from shrinkwise.planning.two_sets import Judging
from shrinkwise.profile.store import Store
from shrinkwise.report.decision import decision
from shrinkwise.scenarios.break_even import BreakEven, fussy_break_even
from shrinkwise.scenarios.compare import Comparison, weigh
from shrinkwise.scenarios.footing import Footing, played_rule
from shrinkwise.scenarios.fussy import Fussiness
from shrinkwise.scenarios.payoff import Payoff
from shrinkwise.scenarios.pool import Pool
from shrinkwise.scenarios.terms import Terms

Weigh = Callable[..., Comparison]

LOAF = "Italian loaf"
SEED = 7


def drawn_streams(kinds: int) -> np.ndarray:
    rng = np.random.default_rng(3)
    mean = [6.0, 9.0, 2.0, 3.0, 4.0][:kinds]
    return rng.poisson(np.array(mean)[:, None, None], size=(kinds, 40, 60)).astype(np.int16)


def ordinary(streams: np.ndarray) -> np.ndarray:
    total = streams.sum(axis=0)
    return total - streams[BARGAIN] if len(streams) > BARGAIN else total


@pytest.mark.parametrize("kinds", [2, 5])
def test_a_larger_share_only_adds_fussy_shoppers(kinds: int) -> None:
    streams = drawn_streams(kinds)
    found = [with_fussy(streams, share, SEED) for share in np.linspace(0, 1, 21)]
    for fewer, more in pairwise(found):
        assert (more[FUSSY] >= fewer[FUSSY]).all()
        for kind in (OLDEST, FRESHEST, SWITCHING):
            assert (more[kind] <= fewer[kind]).all()
    for one in found:
        np.testing.assert_array_equal(ordinary(one), ordinary(streams))
        # who takes the oldest minds its age only where nobody is left who does not
        assert not (one[FRESHEST] + one[SWITCHING])[one[OLDEST] < found[0][OLDEST]].any()
    np.testing.assert_array_equal(found[0][:kinds], streams)
    np.testing.assert_array_equal(found[-1][FUSSY], ordinary(streams))
    if kinds == 5:
        np.testing.assert_array_equal(found[-1][BARGAIN], streams[BARGAIN])


@pytest.mark.parametrize("kinds", [2, 5])
def test_the_share_is_that_of_all_ordinary_shoppers(kinds: int) -> None:
    """A binomial share: its standard error is sqrt(p (1 - p) / n)."""
    streams = drawn_streams(kinds)
    total = int(ordinary(streams).sum())
    found = with_fussy(streams, 0.3, SEED)[FUSSY].sum() / total
    assert found == pytest.approx(0.3, abs=4 * np.sqrt(0.21 / total))
    # two of 21 are fussy already, and fewer cannot be
    if kinds == 5:
        np.testing.assert_array_equal(with_fussy(streams, 0.02, SEED), streams)


def test_a_share_that_is_none() -> None:
    with pytest.raises(ValueError, match=r"0 to 1, but was 1\.2"):
        with_fussy(drawn_streams(2), 1.2, SEED)


def test_shoppers_before_and_after_the_count_are_those_of_the_day(small_footing: Footing) -> None:
    futures = small_footing.futures[LOAF].judge.counted_before(0.3, SEED)
    assert futures.after_count is not None
    found = futures.with_fussy(0.6, 2, SEED)
    assert found.after_count is not None
    np.testing.assert_array_equal(ordinary(found.streams), ordinary(futures.streams))
    np.testing.assert_array_equal(ordinary(found.after_count), ordinary(futures.after_count))
    assert (found.after_count <= found.streams).all()
    assert found.fussy_until_day == 2
    with pytest.raises(ValueError, match="until day 2, not 1"):
        found.with_fussy(0.7, 1, SEED)


def life_of_two(pct: float, life: int = 2) -> Comparison:
    """A loaf of one day from a cheaper dough that keeps for two, a share being fussy."""
    rng = np.random.default_rng(3)
    mean = np.tile([11.0, 9.0, 13.0, 12.0, 24.0, 41.0, 18.0], 4)[:, None]
    demand = rng.negative_binomial(10, 10 / (10 + mean), size=(28, 48))
    footing = footing_of(loaf(1.1, 1), demand)
    terms = {"fussy_pct": pct} if life > 1 else {}
    offer = switched(footing.store, "Loaf", shelf_life_days=life, dough_cost=1.05, **terms)
    return weigh(footing, [offer], START, "")


def test_a_second_day_that_all_refuse_is_no_second_day() -> None:
    """Exactly a life of one day at the offer's cost; best plans differ only in what is left over
    on the very last day, which in a life of two days is thrown after the end."""
    one_day, all_refuse = life_of_two(0, life=1), life_of_two(100)
    brings = [Payoff.of(made, 0).week.mean() for made in (one_day, all_refuse)]
    assert brings[0] == pytest.approx(brings[1], rel=0.02)
    two, one = all_refuse.scenarios[0].lines["Loaf"].sales
    assert [two.line.shelf_life_days, one.line.shelf_life_days] == [2, 1]
    assert not two.outcome.flows.sold_by_age[0][1:].any()
    # shopper by shopper, under the same set batches
    store, shoppers = all_refuse.store, all_refuse.footing.futures["Loaf"].judge
    refusing = Fussiness(100, 1).judge(shoppers, two.line, SEED)
    assert one.rule.counts == "nothing"
    for_one, for_two = (
        played_rule(one.rule, sale.line, store, futures).quantities
        for sale, futures in ((one, shoppers), (two, refusing))
    )
    for field in ("baked", "sold_full", "unmet"):
        np.testing.assert_array_equal(getattr(for_one, field), getattr(for_two, field))
    half, nobody = (Payoff.of(life_of_two(pct), 0).week.mean() for pct in (50, 0))
    assert brings[0] < half < nobody


def test_no_fussy_shopper_is_the_offer_without_them(small_store: Store, weighed: Weigh) -> None:
    plain = switched(small_store, LOAF, extra_days=1, extra_cost=0.05)
    none = switched(small_store, LOAF, extra_days=1, extra_cost=0.05, fussy_pct=0)
    some = switched(small_store, LOAF, extra_days=1, extra_cost=0.05, fussy_pct=60)
    early = switched(
        small_store, LOAF, extra_days=1, extra_cost=0.05, fussy_pct=60, fussy_until_day=1
    )
    made = weighed(plain, none, some, early)
    brings = [Payoff.of(made, index).week for index in range(4)]
    np.testing.assert_array_equal(brings[0], brings[1])
    assert brings[3].mean() < brings[2].mean() < brings[0].mean()
    # who bakes by habit sells for the whole of the code, and throws what is refused
    habit = [Payoff.of(made, index, under_habit=True).week.mean() for index in range(4)]
    assert habit[0] == habit[1]
    assert habit[3] < habit[2] < habit[0]
    # the present life, after which they refuse by default
    assert made.asked[2].fussy == {LOAF: Fussiness(60, 2)}
    # sold for as long as today nothing is too old for anybody
    sold = [made.scenarios[index].lines[LOAF].sales[-1].outcome.money for index in (0, 2)]
    np.testing.assert_array_equal(sold[0].result, sold[1].result)
    assert "60% of its shoppers take none after day 2" in decision(made, 2, None).question
    assert "take none" not in decision(made, 1, None).question


@pytest.fixture(scope="module")
def costly(small_store: Store, weighed: Weigh) -> Pool:
    """An offer that pays by its longer life alone: the dough is dearer, one day less does not."""
    offer = switched(small_store, LOAF, extra_days=2, extra_cost=0.05)
    pool = Pool.of(weighed(offer), 0)
    assert pool is not None
    assert pool.brings.mean() > 0
    assert pool.best(Terms(shelf_life_days=2)).mean() < 0
    return pool


def test_the_switch_brings_less_the_more_shoppers_are_fussy(costly: Pool) -> None:
    """Under a plan at hand and the same shoppers; never less than when it is sold as now."""
    brought = [costly.best(Terms(fussy_pct=pct)).mean() for pct in np.linspace(0, 100, 11)]
    assert brought[0] == pytest.approx(costly.brings.mean())
    # shoppers who take fresh units leave older ones to others: up to their luck it only falls
    assert (np.diff(brought) < 0.05).all()
    sold_as_now = costly.best(Terms(shelf_life_days=2))
    assert min(brought) >= sold_as_now.mean()
    fussy = costly.best(Terms(shelf_life_days=2, fussy_pct=100.0))
    np.testing.assert_array_equal(fussy, sold_as_now)


def test_weighed_anew_at_the_break_even_share_the_switch_brings_nothing(
    costly: Pool, small_store: Store, weighed: Weigh
) -> None:
    found, seen = fussy_break_even(costly)
    assert found is not None
    assert found.root is not None
    assert 0 < found.root < 100
    assert found.low is not None
    assert found.high is not None
    assert found.low < found.root < found.high
    # planned anew for every number of days on which there is anything to refuse
    fresh = seen.sales[len(costly.sales) :]
    assert {sale.line.shelf_life_days for sale in fresh} == {3, 4}
    at_root = switched(small_store, LOAF, extra_days=2, extra_cost=0.05, fussy_pct=found.root)
    brought = Payoff.of(weighed(at_root), 0).week
    assert abs(brought.mean()) <= 2 * standard_error(brought)
    assert found.difference == pytest.approx(brought.mean(), abs=2 * standard_error(brought))


def test_a_switch_that_pays_without_the_longer_life_pays_whoever_comes(
    small_store: Store, weighed: Weigh
) -> None:
    """And one that keeps no longer says nothing of fussy shoppers."""
    cheaper = switched(small_store, LOAF, extra_days=1, extra_cost=-0.1)
    as_long = switched(small_store, LOAF, extra_cost=-0.1)
    hopeless = switched(small_store, LOAF, extra_days=1, extra_cost=0.9)
    made = weighed(cheaper, as_long, hopeless)
    pools = [Pool.of(made, index) for index in range(3)]
    found = [None if pool is None else fussy_break_even(pool)[0] for pool in pools]
    assert found[0] is not None
    assert (found[0].root, found[0].low, found[0].until_day) == (100, 100, 2)
    assert found[1] is None
    assert found[2] == BreakEven("fussy_pct", 0.0, until_day=2)


def told_of_fussy(footing: Footing, until_day: int) -> Footing:
    """The same footing, its logs telling of fussy shoppers of the loaf."""
    sets = footing.futures[LOAF]
    drawn = Judging(*(one.with_fussy(0.2, until_day, SEED) for one in (sets.search, sets.judge)))
    return replace(footing, futures=footing.futures | {LOAF: drawn})


def test_fussy_shoppers_of_whom_the_logs_tell_are_among_them(
    small_footing: Footing, small_store: Store
) -> None:
    footing = told_of_fussy(small_footing, until_day=1)
    as_told = switched(small_store, LOAF, extra_days=1)
    fewer = switched(small_store, LOAF, extra_days=1, fussy_pct=5)
    more = switched(small_store, LOAF, extra_days=1, fussy_pct=60, fussy_until_day=1)
    made = weigh(footing, [as_told, fewer, more], START, "")
    assert made.asked[1].fussy == {LOAF: Fussiness(5, 1)}
    weeks = [Payoff.of(made, index).week for index in range(3)]
    np.testing.assert_allclose(weeks[0], weeks[1], atol=1e-9)
    assert weeks[2].mean() < weeks[0].mean()
    other = switched(small_store, LOAF, extra_days=1, fussy_pct=60, fussy_until_day=2)
    with pytest.raises(ScenarioError, match=r"no unit after day 1 on .* fussy_until_day is 2"):
        weigh(footing, [other], START, "")
