"""A new price moves the demand by the path's elasticity, unless the scenario states a factor."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from offers import START, footing_of, loaf, switched

from shrinkwise.demand.elasticity import ASSUMPTION, OTHERS, OWN_LOGS, PriceAnswers, price_answers
from shrinkwise.demand.factor import UNCHANGED, DemandFactor, Elasticity, PriceFactor
from shrinkwise.demand.model import DemandModel
from shrinkwise.demand.together import LinesTogether
from shrinkwise.profile.store import Store
from shrinkwise.records.tables import Records
from shrinkwise.report.price_words import price_sentences
from shrinkwise.report.verdict import confidence, notes
from shrinkwise.scenarios.changes import Change, Source, changed_lines
from shrinkwise.scenarios.compare import Comparison, weigh
from shrinkwise.scenarios.footing import Footing
from shrinkwise.scenarios.payoff import Payoff
from shrinkwise.scenarios.price import with_price_factors
from shrinkwise.scenarios.scenario import Scenario

ROLLS = "Kaiser rolls"
N = 4000


@pytest.fixture(scope="module")
def answers(small_records: Records, small_demand: DemandModel) -> PriceAnswers:
    return price_answers(LinesTogether.of(small_records, small_demand))


def drawn(factor: DemandFactor, name: str = ROLLS) -> np.ndarray:
    own = np.random.default_rng(sum(name.encode()))
    return factor.draws(N, own, seed=5)


def test_the_elasticity_of_a_path_is_the_same_at_every_price() -> None:
    elasticity = Elasticity(-1.4, (0.3, 0.2))
    paths = [
        np.log(drawn(PriceFactor.of(elasticity, ratio))) / np.log(ratio)
        for ratio in (0.8, 1.05, 1.3)
    ]
    assert paths[0] == pytest.approx(paths[1], rel=1e-9)
    assert paths[0] == pytest.approx(paths[2], rel=1e-9)
    error = elasticity.sd / np.sqrt(N)
    assert paths[0].mean() == pytest.approx(-1.4, abs=4 * error)
    assert paths[0].std() == pytest.approx(np.hypot(0.3, 0.2), rel=0.05)


@pytest.mark.parametrize("ratio", [0.8, 1.3])
def test_mean_and_deviation_are_those_of_the_lognormal(ratio: float) -> None:
    """exp(m + s^2 / 2), and times sqrt(exp(s^2) - 1): of a lognormal with m and s of its log."""
    factor = PriceFactor.of(Elasticity(-1.4, (0.3, 0.2)), ratio)
    m, s = -1.4 * np.log(ratio), np.hypot(0.3, 0.2) * abs(np.log(ratio))
    assert factor.mean == pytest.approx(np.exp(m + s**2 / 2))
    assert factor.sd == pytest.approx(factor.mean * np.sqrt(np.exp(s**2) - 1))
    found = drawn(factor)
    assert found.mean() == pytest.approx(factor.mean, abs=4 * factor.sd / np.sqrt(N))


def test_lines_that_were_learned_together_are_wrong_together(answers: PriceAnswers) -> None:
    names = answers.together.names
    paths = [np.log(drawn(PriceFactor.of(answers.of(name), 1.1), name)) for name in names]
    covariance = answers.sums.covariance[0]
    sd = np.sqrt(np.diag(covariance))
    expected = covariance / np.outer(sd, sd)
    assert np.corrcoef(paths) == pytest.approx(expected, abs=0.06)
    assert expected.min() > 0.3


def test_a_new_price_moves_the_demand_of_every_future(
    small_footing: Footing, small_store: Store
) -> None:
    dearer = switched(small_store, ROLLS, price=1.1 * small_store.line(ROLLS).price)
    (asked,) = with_price_factors((dearer,), small_footing)
    factor = asked.factors[ROLLS]
    assert isinstance(factor, PriceFactor)
    assert factor.price_ratio == pytest.approx(1.1)
    now = small_footing.futures[ROLLS].judge
    then = small_footing.judging(ROLLS, factor).judge
    share = (then.means / np.where(now.means > 0, now.means, np.nan)).T
    by_path = np.nanmean(share, axis=1)
    assert share[~np.isnan(share)].std() < 0.2
    # one draw a path, the same on all of its days
    assert np.nanmax(share, axis=1) == pytest.approx(by_path, rel=1e-6)
    spread = factor.elasticity.sd * np.log(1.1)
    assert np.log(by_path).std() == pytest.approx(spread, rel=0.35)
    assert np.log(by_path).mean() == pytest.approx(
        factor.elasticity.mean * np.log(1.1), abs=4 * spread / np.sqrt(len(by_path))
    )


def test_a_stated_demand_factor_has_the_last_word(
    small_footing: Footing, small_store: Store, weighed: Callable[..., Comparison]
) -> None:
    price = 1.1 * small_store.line(ROLLS).price
    stated = switched(small_store, ROLLS, price=price, demand_factor=1.0)
    assert stated.factors == {ROLLS: UNCHANGED}
    assert with_price_factors((stated,), small_footing) == (stated,)
    assert small_footing.judging(ROLLS, UNCHANGED) is small_footing.futures[ROLLS]
    unsure = switched(small_store, ROLLS, price=price, demand_factor_sd=0.1)
    assert unsure.factors == {ROLLS: DemandFactor(1.0, 0.1)}
    made = weighed(switched(small_store, ROLLS, price=price), stated)
    moved, held = (Payoff.of(made, index).week.mean() for index in (0, 1))
    # dearer rolls bring more if nobody minds
    assert moved < held
    assert "with its own demand" in confidence(made, 0)
    assert "the demand held as it is" in confidence(made, 1)
    assert any(f"No demand factor is stated for {ROLLS}" in one for one in notes(made, 0))
    assert notes(made, 1) == []


def test_another_cost_at_the_same_price_leaves_the_demand_alone(
    small_footing: Footing, small_store: Store
) -> None:
    dearer = switched(small_store, ROLLS, extra_cost=0.1, price=small_store.line(ROLLS).price)
    assert with_price_factors((dearer,), small_footing) == (dearer,)


def test_without_a_source_a_new_price_must_state_its_demand() -> None:
    demand = np.full((28, 8), 10)
    footing = footing_of(loaf(1.1, 1), demand)
    with pytest.raises(ValueError, match="needs a source"):
        weigh(footing, [switched(footing.store, "Loaf", price=4.1)], START, "")


def test_it_is_said_what_an_elasticity_rests_on(answers: PriceAnswers, small_store: Store) -> None:
    offer = switched(small_store, ROLLS, price=4.0)
    one = Elasticity(-1.0, (0.3,), 40.0, OWN_LOGS, price_changes=1, promotion_days=6)

    def said(elasticity: Elasticity) -> str:
        factors = {ROLLS: PriceFactor.of(elasticity, 0.5)}
        (sentence,) = price_sentences(replace(offer, factors=factors), small_store)
        return sentence

    # 0.5 to the power of -1, and of -1 -+ 1.645 x 0.3
    assert "USD 4.00 its demand is taken as 200% of now (in nine of ten futures 142% to" in said(
        one
    )
    assert "elasticity of -1.00 (-1.49 to -0.51) from 1 price change and 6 promotion" in said(one)
    assert "40% of which the logs tell" in said(one)
    assert "from other lines, since its own logs hold no other price" in said(
        replace(one, rests_on=OTHERS)
    )
    assert "that is an assumption, since the logs hold no other price" in said(
        replace(one, rests_on=ASSUMPTION)
    )
    found = answers.of(ROLLS)
    assert found.promotion_days == 6
    assert found.rests_on == OWN_LOGS
    assert answers.of("Italian loaf").rests_on == OTHERS


def test_many_lines_are_said_in_few_sentences(sample_records: Records) -> None:
    store = sample_records.profile
    lines, stated, _ = changed_lines([Change(all=True, extra_cost=0.1)], store, Source("test"))
    factors = {name: PriceFactor.of(Elasticity(-1.0, (0.3,)), 0.5) for name in lines}
    said = price_sentences(Scenario("All", lines, stated | factors), store)
    assert len(said) == 5
    assert said[-1].startswith("The same for 12 more lines: demand 200% to 200% of now")
