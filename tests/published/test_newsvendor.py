"""A shelf life of one day is the newsvendor's problem: the published answers come out.

Sources: L. V. Snyder, Z.-J. M. Shen, Fundamentals of Supply Chain Theory, 2nd ed., Wiley 2019,
examples and problems as numbered below, with the digits carried by the package stockpyl 1.0.2
(MIT licence). Holding cost h is the book's cost of a unit left over, p that of a unit short.

The expectations are exact: path number d wants d units, and the mean over paths is weighted by
the probability of d, so no sample stands between the engine and the published digits.
"""

import warnings
from dataclasses import dataclass

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from shrinkwise.engine.policy import Days, Policy, Shelf
from shrinkwise.engine.simulate import Flows, simulate
from shrinkwise.planning.futures import Futures
from shrinkwise.planning.outcome import demerits
from shrinkwise.planning.rule import Rule, policy_of
from shrinkwise.planning.search import best_rules
from shrinkwise.planning.settings import PlanSettings
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Labour

with warnings.catch_warnings():
    # an outside package may be behind the warnings of its own dependencies
    warnings.simplefilter("ignore")
    from stockpyl import newsvendor

Floats = NDArray[np.float64]
EVERY_DAY = (0, 1, 2, 3, 4, 5, 6)
NO_LABOUR = Labour(wage_per_hour=0.0)


@dataclass(frozen=True)
class Case:
    """A published newsvendor with whole units."""

    source: str
    holding: float
    short: float
    pmf: Floats
    best: int
    best_cost: float
    other: tuple[int, float] | None = None


def poisson(mean: float, most: int) -> Floats:
    """Probabilities of 0 to `most`; what lies beyond is below the last digit asserted."""
    return np.asarray(stats.poisson(mean).pmf(np.arange(most + 1)))


CASES = [
    Case("Example 4.7 with K = 0", 1, 4, poisson(6, 60), 8, 3.570106945770946,
         (5, 6.590296024616344)),
    Case("Example 4.3 with Poisson(50)", 0.18, 0.70, poisson(50, 200), 56, 1.797235211809178),
    Case("Problem 4.8(a)", 200, 270, poisson(18, 120), 19, 786.0884409351115,
         (13, 1445.751062891969)),
    Case("Problem 4.7(b)", 500_000, 1_000_000,
         np.array([0, 0.25, 0.05, 0.10, 0.20, 0.15, 0.10, 0.10, 0.05]), 5, 1_225_000,
         (3, 1_725_000)),
]  # fmt: skip


def one_day(n_demands: int, levels: NDArray[np.integer], credit: float, oldest: bool) -> Flows:
    """Every level against every demand from 0 up, one path each, for one day."""
    streams = np.zeros((2, 1, n_demands), np.int16)
    streams[0 if oldest else 1, 0] = np.arange(n_demands)
    policy = Policy(levels.astype(np.int16)[:, None, None], np.full(len(levels), credit))
    return simulate(streams, policy, Shelf(life_days=1), Days(np.zeros(1, int), np.ones(1, bool)))


@pytest.mark.parametrize("oldest", [True, False], ids=["oldest first", "freshest first"])
@pytest.mark.parametrize("credit", [0.0, 1.0], ids=["set batch", "top-up"])
@pytest.mark.parametrize("case", CASES, ids=lambda case: case.source)
def test_the_best_batch_and_its_cost_are_the_published_ones(
    case: Case, credit: float, oldest: bool
) -> None:
    levels = np.arange(len(case.pmf))
    flows = one_day(len(case.pmf), levels, credit, oldest)
    cost = (case.holding * flows.disposed + case.short * flows.unmet) @ case.pmf
    assert int(cost.argmin()) == case.best
    assert cost[case.best] == pytest.approx(case.best_cost, rel=1e-9)
    if case.other is not None:
        level, published = case.other
        assert cost[level] == pytest.approx(published, rel=1e-9)


@pytest.mark.parametrize("case", CASES[:3], ids=lambda case: case.source)
def test_stockpyl_agrees_at_every_level(case: Case) -> None:
    """A second opinion on the whole cost curve, not on its published points alone."""
    mean = float(np.arange(len(case.pmf)) @ case.pmf)
    levels = np.arange(1, int(2 * mean))
    flows = one_day(len(case.pmf), levels, 1.0, True)
    ours = (case.holding * flows.disposed + case.short * flows.unmet) @ case.pmf
    theirs = [
        newsvendor.newsvendor_poisson(case.holding, case.short, mean, base_stock_level=int(level))[
            1
        ]
        for level in levels
    ]
    assert ours == pytest.approx(theirs, rel=1e-9)


def test_expected_profit_with_a_salvage_value() -> None:
    """Example 4.2 with Poisson(50): r = 1, c = 0.30, v = 0.12; best profit 33.20276478819082."""
    pmf = poisson(50, 200)
    flows = one_day(len(pmf), np.arange(100), 0.0, True)
    profit = (flows.sold_full - 0.30 * flows.baked.sum(axis=1) + 0.12 * flows.disposed) @ pmf
    assert profit.max() == pytest.approx(33.20276478819082, rel=1e-9)


@pytest.mark.parametrize(
    ("distribution", "level", "published"),
    [
        (stats.poisson(15), 18, 0.5176095282584724),
        (stats.nbinom(4, 0.2), 14, 4.447304632028364),
        # mean 23, standard deviation 8: size 23^2 / (64 - 23), share 23 / 64
        (stats.nbinom(23**2 / 41, 23 / 64), 14, 9.326459980156931),
    ],
    ids=["Poisson 15", "negative binomial 16, variance 80", "negative binomial 23, sd 8"],
)
def test_expected_units_short(
    distribution: stats.rv_discrete, level: int, published: float
) -> None:
    """Loss functions E[(D - S)+] as carried by stockpyl 1.0.2 (loss_functions)."""
    demands = np.arange(600)
    flows = one_day(len(demands), np.array([level]), 1.0, True)
    assert flows.unmet[0] @ distribution.pmf(demands) == pytest.approx(published, rel=1e-9)


def test_stock_is_not_carried_over_so_a_week_is_seven_newsvendors() -> None:
    """Each of seven days with its own batch costs what a day alone costs: nothing is left."""
    case = CASES[0]
    n_demands = len(case.pmf)
    streams = np.zeros((2, 7, n_demands), np.int16)
    streams[0] = np.arange(n_demands)
    levels = np.arange(5, 12, dtype=np.int16)[None, :, None]
    for credit in (0.0, 1.0):
        flows = simulate(
            streams,
            Policy(levels, np.array([credit])),
            Shelf(life_days=1),
            Days(np.arange(7), np.ones(7, bool)),
        )
        alone = one_day(n_demands, levels[0, :, 0], credit, True)
        assert not flows.closing.any()
        assert (flows.disposed[0] == alone.disposed.sum(axis=0)).all()
        assert (flows.unmet[0] == alone.unmet.sum(axis=0)).all()


def newsvendor_line(holding: float, short: float, disposal_cost: float = 0.0) -> Line:
    """A line whose money is the newsvendor's: overage = dough + disposal, underage = margin."""
    dough_cost = holding - disposal_cost
    return Line(
        name="Newsvendor loaf",
        category="breads",
        price=dough_cost + short,
        dough_cost=dough_cost,
        disposal_cost=disposal_cost,
        shelf_life_days=1,
        filled=False,
    )


def week_of(demand: NDArray[np.integer]) -> Futures:
    """Futures with `demand` of shape (n_days, n_paths), Monday first, all counted."""
    streams = np.stack([demand, np.zeros_like(demand)]).astype(np.int16)
    n_days = len(demand)
    means = demand.astype(np.float64)
    return Futures(streams, means, Days(np.arange(n_days) % 7, np.ones(n_days, bool)))


def planned(line: Line, futures: Futures) -> NDArray[np.int16]:
    """The planner's best targets by weekday."""
    found = best_rules(line, NO_LABOUR, futures, EVERY_DAY, EVERY_DAY, PlanSettings(finalists=2))
    return found[0].targets


@pytest.mark.parametrize(
    ("holding", "short", "mean", "best"),
    [(1, 4, 6, 8), (0.18, 0.70, 50, 56), (200, 270, 18, 19)],
    ids=["Example 4.7", "Example 4.3 with Poisson(50)", "Problem 4.8(a)"],
)
def test_the_planner_finds_the_published_batch(
    holding: float, short: float, mean: float, best: int
) -> None:
    # the quantiles of an even grid are a sample without luck; each day shuffles them anew
    rng = np.random.default_rng(0)
    grid = stats.poisson(mean).ppf((np.arange(800) + 0.5) / 800).astype(int)
    demand = np.stack([rng.permutation(grid) for _ in range(7)])
    assert planned(newsvendor_line(holding, short, 0.4 * holding), week_of(demand)).tolist() == (
        [best] * 7
    )


@pytest.mark.parametrize(("holding", "short"), [(1.2, 2.8), (1.0, 4.0), (3.0, 1.0)])
def test_the_planner_finds_each_weekday_s_critical_fractile_of_its_own_paths(
    holding: float, short: float
) -> None:
    """The empirical newsvendor has a closed answer: the short / (short + holding) fractile.

    Weekdays differ as they do in a store, so that one level cannot serve them all.
    """
    rng = np.random.default_rng(7)
    mean = np.tile([11.0, 9.0, 13.0, 12.0, 24.0, 41.0, 18.0], 4)[:, None]
    demand = rng.negative_binomial(10, 10 / (10 + mean), size=(28, 120))
    futures = week_of(demand)
    line = newsvendor_line(holding, short, 0.2)
    by_weekday = demand.reshape(4, 7, 120).transpose(1, 0, 2).reshape(7, -1)
    fractile = np.quantile(by_weekday, short / (short + holding), axis=1, method="inverted_cdf")
    found = planned(line, futures)
    both = [Rule(found), Rule(fractile.astype(np.int16))]
    losses = demerits(line, NO_LABOUR, futures, policy_of(both, futures, line))
    # a fractile that falls between two draws leaves several best levels: compare the money too
    assert losses[0] == pytest.approx(losses[1], rel=1e-12)
    assert np.abs(found - fractile).max() <= 1
