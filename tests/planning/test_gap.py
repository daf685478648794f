"""The gap to the optimum: the exact problem is the planner's own, and what it cannot tell it
does not tell."""

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from shrinkwise.demand.model import DemandModel
from shrinkwise.engine.exact import evaluate, solve
from shrinkwise.engine.policy import NO_BAKE, Days
from shrinkwise.engine.streams import split_demand
from shrinkwise.planning import judging, optimum, outcome
from shrinkwise.planning.exact_line import TypicalWeek, batches_of, line_problem
from shrinkwise.planning.futures import Futures
from shrinkwise.planning.optimum import gap_to_optimum_pct
from shrinkwise.planning.outcome import line_outcome
from shrinkwise.planning.plan import BakePlan
from shrinkwise.planning.rule import Rule, policy_of
from shrinkwise.planning.settings import PlanSettings
from shrinkwise.planning.two_sets import Judging, judging_futures
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Store
from shrinkwise.profile.weekdays import WEEKDAYS
from shrinkwise.records.tables import Records
from shrinkwise.shelf.model import ShelfModel

# mean and size of each weekday's negative binomial; closed on Sundays
WEEK = [(5.7, 3.5), (6.9, 11.0), (6.5, 7.2), (6.2, 11.1), (5.8, 5.9), (3.3, 5.5)]
OPEN = np.array([True] * 6 + [False])
SETTLING, WEEKS, N_PATHS = 14, 26, 400


def line_of(**settings: Any) -> Line:
    usual = {
        "name": "Rye loaf",
        "category": "breads",
        "price": 4.0,
        "dough_cost": 1.2,
        "disposal_cost": 0.05,
        "shelf_life_days": 3,
        "filled": False,
    }
    return Line(**(usual | settings))


REDUCED = {"reduced_price": 2.0, "reduce_on_day": 3}


def store_of(line: Line) -> Store:
    return Store(
        name="Corner", currency="USD", country="US", lines=(line,), open_days=WEEKDAYS[:6]
    )  # fmt: skip


def futures_of(share: float, week: list[tuple[float, float]] = WEEK) -> Futures:
    rng = np.random.default_rng(3)
    n_days = SETTLING + 7 * WEEKS
    weekday = np.arange(n_days) % 7
    wanted = np.zeros((n_days, N_PATHS), np.int64)
    means = np.zeros((n_days, N_PATHS))
    for day in np.flatnonzero(weekday < len(week)):
        mean, size = week[weekday[day]]
        wanted[day] = rng.negative_binomial(size, size / (size + mean), N_PATHS)
        means[day] = mean
    streams = split_demand(wanted, np.full(N_PATHS, share), seed=4)
    return Futures(streams, means, Days(weekday, OPEN[weekday], SETTLING))


def week_of(share: float) -> TypicalWeek:
    """The law that the futures are drawn from."""
    demand = [stats.nbinom(size, size / (size + mean)).pmf(np.arange(120)) for mean, size in WEEK]
    pmfs = [pmf / pmf.sum() for pmf in demand]
    return TypicalWeek((*pmfs, np.ones(1)), share, OPEN)


def targets(*by_weekday: int) -> NDArray[np.int16]:
    return np.array([target or NO_BAKE for target in by_weekday], np.int16)


DAILY = targets(13, 13, 13, 12, 10, 7, 0)
SOME = targets(18, 0, 17, 0, 14, 0, 0)
AGED = np.full((7, 3), -1, np.int16)
AGED[[0, 2, 4], 0] = 4, 5, 2
AGED[4, 1] = 9

RULES = {
    "a top-up": Rule(DAILY),
    "one that waits": Rule(SOME, least_need=6),
    "one under a ceiling": Rule(DAILY, ceiling=9),
    "set batches": Rule(targets(9, 0, 9, 0, 7, 4, 0), counts="nothing"),
    "a count by age": Rule(SOME, ceiling=15, counts="units by age", sold_by_night=AGED),
}
by_rule = pytest.mark.parametrize("rule", RULES.values(), ids=RULES)

LINES = {
    "plain": line_of(),
    "reduced": line_of(**REDUCED),
    "in pans and steps": line_of(units_per_pan=6, batch_step=3, min_batch=5, max_batch=16),
    "two days": line_of(shelf_life_days=2, reduced_price=2.0, reduce_on_day=2),
}


@by_rule
@pytest.mark.parametrize("name", LINES)
def test_the_batches_are_those_of_the_rule(rule: Rule, name: str) -> None:
    line = LINES[name]
    life = line.shelf_life_days
    if rule.sold_by_night is not None:
        rule = replace(rule, sold_by_night=rule.sold_by_night[:, :life])
    problem = line_problem(line, store_of(line), week_of(0.5), 30, 30)
    batches = batches_of(rule, problem, line)
    seen = 0
    for day, *shelf in shelves(life, 11):
        fits = [batch for batch in problem.batches[day] if batch + sum(shelf) <= 30]
        wanted = rule.batch(day, (0, *shelf), line)
        assert batches[day, *shelf] == min(wanted, max(fits))
        seen += wanted > 0
    assert seen > 20


def shelves(life: int, most: int) -> Iterator[tuple[int, ...]]:
    yield from np.ndindex((7, *(most,) * (life - 1)))


@by_rule
@pytest.mark.parametrize("name", LINES)
def test_the_exact_loss_is_that_of_the_futures(rule: Rule, name: str) -> None:
    """All that a week loses, within four standard errors: waste, markdown, labour, margin."""
    line, futures = LINES[name], futures_of(0.6)
    if rule.sold_by_night is not None:
        rule = replace(rule, sold_by_night=rule.sold_by_night[:, : line.shelf_life_days])
    store = store_of(line)
    problem = line_problem(line, store, week_of(0.6), 48, 48)
    exact = evaluate(problem, batches_of(rule, problem, line))
    assert exact.full < 1e-6
    played = line_outcome(line, store.labour, futures, policy_of([rule], futures, line))
    loss = played.money.loss
    error = loss.std(ddof=1) / np.sqrt(N_PATHS)
    assert abs(loss.mean() - 7 * exact.cost) < 4 * error
    assert 4 * error < 0.02 * loss.mean()


def test_a_rule_that_bakes_more_than_is_looked_at_is_refused() -> None:
    line = line_of()
    problem = line_problem(line, store_of(line), week_of(0.5), 17, 30)
    with pytest.raises(ValueError, match="at most 17 units, but go up to 18"):
        batches_of(Rule(SOME), problem, line)


def test_the_week_is_that_of_the_futures() -> None:
    week, law = TypicalWeek.of(futures_of(0.3)), week_of(0.3)
    assert week.is_open.tolist() == OPEN.tolist()
    assert week.oldest_share == pytest.approx(0.3, abs=0.005)
    assert week.demand[6].tolist() == [1.0]
    for pmf, true in zip(week.demand, law.demand, strict=True):
        mean, variance = true @ np.arange(len(true)), true @ np.arange(len(true)) ** 2
        assert pmf @ np.arange(len(pmf)) == pytest.approx(mean, rel=0.03)
        assert pmf @ np.arange(len(pmf)) ** 2 == pytest.approx(variance, rel=0.08)


def test_days_that_are_not_counted_or_not_open_do_not_count() -> None:
    futures = futures_of(0.3)
    streams = futures.streams.copy()
    streams[:, : futures.days.first_day] = 100
    streams[:, ~futures.days.is_open] = 100
    week, other = TypicalWeek.of(futures), TypicalWeek.of(replace(futures, streams=streams))
    assert other.oldest_share == week.oldest_share
    assert all((a == b).all() for a, b in zip(week.demand, other.demand, strict=True))


def test_a_life_of_one_day_has_the_gap_of_the_newsvendor() -> None:
    """By hand: the batch of least loss, a unit more or less costs what its units cost."""
    line = line_of(shelf_life_days=1, disposal_cost=0.4, batch_step=1)
    futures, store = futures_of(0.5), store_of(line)
    labour = store.labour
    wage = labour.wage_per_hour / 60
    per_unit = wage * labour.minutes_per_unit
    thrown = line.dough_cost + line.disposal_cost + wage * labour.minutes_per_disposed_unit

    def loss(pmf: NDArray[np.float64], batch: int) -> float:
        units = np.arange(len(pmf))
        left, missed = np.maximum(batch - units, 0) @ pmf, np.maximum(units - batch, 0) @ pmf
        pans = -(-batch // line.units_per_pan)
        baking = wage * (labour.minutes_per_bake * (batch > 0) + labour.minutes_per_pan * pans)
        return baking + per_unit * batch + thrown * left + line.unit_margin * missed

    week = TypicalWeek.of(futures)
    losses = [[loss(pmf, batch) for batch in range(60)] for pmf in week.demand]
    best = [int(np.argmin(row)) for row in losses]
    least = sum(min(row) for row in losses)
    assert gap_to_optimum_pct(line, store, futures, Rule(targets(*best))) == pytest.approx(
        0.0, abs=0.01
    )
    more = [batch + 2 if batch else 0 for batch in best]
    above = sum(row[batch] for row, batch in zip(losses, more, strict=True)) - least
    told = gap_to_optimum_pct(line, store, futures, Rule(targets(*more)))
    assert told == pytest.approx(100 * above / least, abs=0.01)
    assert told > 1


@pytest.mark.parametrize("share", [0.0, 0.4, 1.0])
def test_a_better_rule_has_a_smaller_gap(share: float) -> None:
    line, futures = line_of(**REDUCED), futures_of(share)
    store = store_of(line)
    told = [
        gap_to_optimum_pct(line, store, futures, rule)
        for rule in (Rule(SOME, least_need=3), Rule(DAILY), Rule(DAILY + 6))
    ]
    assert None not in told
    # a bake a day costs more set-ups than it saves, and too much bread costs more yet
    assert 0 < told[0] < told[1] < told[2]


def test_more_room_to_look_in_changes_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    line, futures = line_of(**REDUCED), futures_of(0.4)
    store, rule = store_of(line), Rule(SOME, least_need=3)
    told = gap_to_optimum_pct(line, store, futures, rule)
    tight = optimum._first_bounds
    for change in ({"room": 60}, {"batch": 40, "room": 60}, {"batch": 18, "room": 18}):
        monkeypatch.setattr(optimum, "_first_bounds", lambda *a, c=change: replace(tight(*a), **c))
        assert gap_to_optimum_pct(line, store, futures, rule) == pytest.approx(told, abs=0.01)


@pytest.mark.parametrize(
    "rule",
    [
        Rule(targets(4, 4, 4, 4, 4, 3, 0)),
        Rule(targets(11, 11, 11, 11, 11, 11, 0), counts="nothing"),
    ],
    ids=["far too little", "far too much"],
)
def test_the_bounds_of_the_search_keep_nothing_out(rule: Rule) -> None:
    """A rule far below what the optimum bakes, and one that piles up far above it."""
    line, futures = line_of(), futures_of(0.4)
    store = store_of(line)
    problem = line_problem(line, store, TypicalWeek.of(futures), 45, 60)
    loss, least = evaluate(problem, batches_of(rule, problem, line)).cost, solve(problem).gain
    assert least is not None
    told = gap_to_optimum_pct(line, store, futures, rule)
    assert told == pytest.approx(100 * (loss / least - 1), rel=2e-4)


def test_the_optimum_keeps_to_what_the_store_allows() -> None:
    """Its own days and batches: where they bind, the least loss is larger and the gap smaller."""
    week = week_of(0.5)
    rule = Rule(targets(0, 13, 13, 0, 12, 0, 0))
    bound = line_of(no_bake_days=("monday", "thursday"), min_batch=6, max_batch=14)
    problem = line_problem(bound, store_of(bound), week, 14, 40)
    batch = solve(problem).batch
    assert not batch[[0, 3, 6]].any()
    assert set(np.unique(batch)) <= {0, *range(6, 15)}
    futures = futures_of(0.5)
    told = [gap_to_optimum_pct(x, store_of(x), futures, rule) for x in (line_of(), bound)]
    assert 0 < told[1] < told[0]


def test_of_rules_that_tie_in_the_noise_none_far_from_the_optimum_is_taken(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    line, futures = line_of(**REDUCED), futures_of(0.4)
    wait, simple = Rule(SOME, least_need=3), Rule(DAILY)
    monkeypatch.setattr(outcome, "TIE_ERRORS", 1e9)
    monkeypatch.setattr(judging, "best_rules", lambda *_: [wait, simple])
    choice = judging.chosen_rule(
        line, store_of(line), Judging(futures, futures), (), PlanSettings()
    )
    gap = gap_to_optimum_pct(line, store_of(line), futures, choice.rule)
    assert choice.gap_to_optimum_pct == pytest.approx(gap, abs=0.01)
    assert gap is not None
    assert gap <= outcome.TIE_PCT
    assert gap_to_optimum_pct(line, store_of(line), futures, simple) > outcome.TIE_PCT


def test_a_rule_beyond_the_bounds_of_a_known_optimum_has_the_same_gap() -> None:
    line, futures = line_of(), futures_of(0.4)
    store, large = store_of(line), Rule(targets(39, 39, 39, 36, 30, 21, 0))
    known = optimum.optimum(line, store, futures, Rule(DAILY))
    assert known is not None
    assert known.gap_pct(large, line) is None
    told = gap_to_optimum_pct(line, store, futures, large, known)
    assert told == pytest.approx(gap_to_optimum_pct(line, store, futures, large), abs=0.01)


def test_what_cannot_be_told_is_not() -> None:
    futures, rule = futures_of(0.5), Rule(DAILY)

    def told(line: Line, futures: Futures = futures) -> float | None:
        return gap_to_optimum_pct(line, store_of(line), futures, rule)

    assert told(line_of()) is not None
    assert told(line_of(reduced_price=2.0, reduce_on_day=2)) is None
    assert told(line_of(in_stock_floor_pct=90)) is None
    # too many shelves, each of a life of nine days
    assert told(line_of(shelf_life_days=9)) is None
    # dough may outlive its days in the freezer, or surely does not
    assert told(line_of(case_units=600, freezer_weeks=12)) is None
    assert told(line_of(case_units=24, freezer_weeks=12)) is not None
    # the rule sees another shelf than that of the night, unless it does not look
    early = replace(futures, after_count=futures.streams // 2)
    assert told(line_of(), early) is None
    blind = Rule(DAILY - 5, counts="nothing")
    assert gap_to_optimum_pct(line_of(), store_of(line_of()), early, blind) is not None
    # other kinds of shoppers
    four = np.concatenate([futures.streams, futures.streams])
    assert told(line_of(), replace(futures, streams=four)) is None


def test_nobody_who_comes_makes_no_gap() -> None:
    """Nothing is lost by baking nothing, and no percentage of nothing is told."""
    line = line_of()
    nobody = futures_of(0.5, week=[])
    none = Rule(targets(*[0] * 7))
    assert gap_to_optimum_pct(line, store_of(line), nobody, none) is None


def test_a_small_largest_batch_is_no_bound_of_the_search() -> None:
    """The shelf is full of batches that nobody buys, or sold out on every day."""
    for life in (1, 2, 3):
        line = line_of(shelf_life_days=life, max_batch=3)
        rule = Rule(targets(3, 3, 3, 3, 3, 3, 0), counts="nothing")
        told = gap_to_optimum_pct(line, store_of(line), futures_of(0.5), rule)
        assert told is not None
        assert 0 <= told < 30


def test_the_gap_of_every_short_lived_line_of_the_sample_store_is_told(
    sample_plan: BakePlan,
    sample_records: Records,
    sample_demand: DemandModel,
    sample_shelf: ShelfModel,
) -> None:
    """Lives of up to three days, unless reduced early; longer ones where they sell slowly."""
    futures = judging_futures(sample_records, sample_demand, sample_shelf, sample_plan.settings)
    told = {}
    for plan in sample_plan.lines:
        of_line = futures[plan.line.name].judge
        told[plan.line.name] = gap_to_optimum_pct(plan.line, sample_plan.store, of_line, plan.rule)
        if plan.line.shelf_life_days <= 3 and plan.line.reduce_on_day in (None, 3):
            assert told[plan.line.name] is not None, plan.line.name
    known = [gap for gap in told.values() if gap is not None]
    print(f"\ngap to the optimum: {told}")
    assert len(known) >= 8
    assert max(known) < 10
    assert told["Spiced festive loaf"] is None
