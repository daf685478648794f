"""What holds in every exact problem, whatever it costs and whoever picks."""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import Any, Literal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy import stats

from shrinkwise.engine.exact import (
    PerishableProblem,
    TopUp,
    best_top_up,
    evaluate,
    first_days,
    solve,
    top_up_policy,
)

Ints = NDArray[np.int64]
Shelf = tuple[int, ...]

# the first call compiles the loops, so no single example has a deadline
thorough = settings(max_examples=60, deadline=None, derandomize=True)
COSTS = ("price", "unit_cost", "bake_cost", "pan_cost", "short_cost", "waste_cost", "hold_cost")
LAST_DAY_COSTS = ("last_day_cost", "last_sale_cost")


@st.composite
def problems(draw: st.DrawFn) -> PerishableProblem:
    """Small problems; sizes are drawn by hypothesis, numbers by a generator that it seeds."""
    rng = np.random.default_rng(draw(st.integers(0, 2**31)))
    pmfs = []
    for _ in range(draw(st.integers(1, 3))):
        # every other demand is certain
        pmf = rng.random(draw(st.integers(1, 5))) * rng.integers(0, 2)
        pmf[rng.integers(len(pmf))] += 0.1
        pmfs.append(pmf / pmf.sum())
    batch_step = draw(st.integers(1, 2))
    max_batch = draw(st.integers(batch_step, 4))
    lead_days = draw(st.sampled_from([0, 1]))
    either: list[Any] = ["oldest", "freshest"] if lead_days else ["oldest", "freshest", 0.3, 1, 0.0]
    shelf_life, picks = draw(st.integers(1, 4)), draw(st.sampled_from(either))
    limits = [None]
    if not isinstance(picks, str) and shelf_life > 1:
        limits += [max_batch, max_batch + 2]
    return PerishableProblem(
        demand=pmfs,
        shelf_life=shelf_life,
        lead_days=lead_days,
        picks=picks,
        max_batch=max_batch,
        batch_step=batch_step,
        min_batch=draw(st.integers(0, max_batch // batch_step * batch_step)),
        bakes_on=draw(st.sampled_from([None, rng.integers(0, 2, len(pmfs)) > 0])),
        units_per_pan=draw(st.integers(1, 3)),
        hold_counts_waste=draw(st.booleans()),
        max_units_per_age=draw(st.sampled_from([None, max_batch + 1])),
        max_to_sell=draw(st.sampled_from(limits)),
        **{name: float(rng.integers(0, 8)) for name in (*COSTS, *LAST_DAY_COSTS)},
    )


def any_policy(problem: PerishableProblem, seed: int) -> Ints:
    """Batches without sense or reason."""
    rng = np.random.default_rng(seed)
    policy = np.zeros((problem.n_days, *problem.shelf_shape), np.int64)
    for day, *shelf in np.ndindex(policy.shape):
        policy[day, *shelf] = rng.choice(allowed(problem, day, sum(shelf)))
    return policy


def days(problem: PerishableProblem) -> range:
    return range(problem.n_days)


def smallest(problem: PerishableProblem) -> int:
    """The smallest batch in whole steps."""
    steps = np.arange(1, problem.max_batch + 1) * problem.batch_step
    return int(steps[steps >= problem.min_batch][0])


def allowed(problem: PerishableProblem, day: int, stock: int = 0) -> list[int]:
    """Batches that may be decided on a day, by the words of the problem."""
    bakes = problem.bakes_on is None or problem.bakes_on[day]
    steps = range(smallest(problem), problem.max_batch + 1, problem.batch_step)
    fit = problem.max_to_sell is None
    return [0, *(batch for batch in steps if bakes and (fit or batch + stock <= room(problem)))]


def room(problem: PerishableProblem) -> int:
    """Units that can be there to sell."""
    most = sum(size - 1 for size in problem.shelf_shape)
    most += 0 if problem.lead_days else problem.max_batch
    return min(most, most if problem.max_to_sell is None else problem.max_to_sell)


def kinds(problem: PerishableProblem, day: int) -> Iterator[tuple[float, int, int]]:
    """Chance, units wanted oldest first and units wanted freshest first."""
    share = {"oldest": 1.0, "freshest": 0.0}.get(str(problem.picks), problem.picks)
    for demand, chance in enumerate(problem.demand[day]):
        for oldest in range(demand + 1):
            odds = chance * stats.binom.pmf(oldest, demand, share)
            if odds > 0:
                yield odds, oldest, demand - oldest


def one_day(
    problem: PerishableProblem, day: int, shelf: Shelf, batch: int
) -> Iterator[tuple[float, dict[str, float], Shelf]]:
    """A plain account of a day, unit by unit: chance, amounts and tomorrow's shelf by demand."""
    there = list(shelf) if problem.lead_days else [batch, *shelf]
    for chance, oldest, freshest in kinds(problem, day):
        left = list(there)
        wanted = take(left, oldest, reversed(range(len(left))))
        wanted += take(left, freshest, range(len(left)))
        wasted = left.pop()
        sold = sum(there) - sum(left) - wasted
        held = sum(left) + (wasted if problem.hold_counts_waste else 0)
        amounts = {
            "baked": batch,
            "sold": sold,
            "short": wanted,
            "wasted": wasted,
            "held": held,
            "bakes": float(batch > 0),
            "full": float(sum(there) > room(problem) - smallest(problem)),
        }
        amounts["cost"] = (
            problem.unit_cost * batch
            + problem.bake_cost * (batch > 0)
            + problem.pan_cost * np.ceil(batch / problem.units_per_pan)
            + problem.short_cost * wanted
            + problem.waste_cost * wasted
            + problem.hold_cost * held
            - problem.price * sold
            + problem.last_day_cost * (there[-1] if len(problem.demand[day]) > 1 else 0)
            + problem.last_sale_cost * (there[-1] - wasted)
        )
        yield chance, amounts, (batch, *left) if problem.lead_days else tuple(left)


def take(left: list[int], wanted: int, ages: Iterable[int]) -> int:
    """Take so many units in this order of ages; the units that are not there."""
    for age in ages:
        taken = min(left[age], wanted)
        left[age] -= taken
        wanted -= taken
    return wanted


def played(problem: PerishableProblem, policy: Ints, n_days: int) -> list[dict[str, float]]:
    """A plain account of the first days: every shelf with its odds, every demand."""
    odds: dict[Shelf, float] = {(0,) * len(problem.shelf_shape): 1.0}
    rows = []
    for day in range(n_days):
        of_cycle = day % problem.n_days
        onward: dict[Shelf, float] = defaultdict(float)
        sums: dict[str, float] = defaultdict(float)
        for shelf, odd in odds.items():
            batch = int(policy[(of_cycle, *shelf)])
            for chance, amounts, tomorrow in one_day(problem, of_cycle, shelf, batch):
                for name, amount in amounts.items():
                    sums[name] += odd * chance * amount
                onward[tomorrow] += odd * chance
        odds = onward
        rows.append(dict(sums))
    return rows


@thorough
@given(problems(), st.integers(0, 2**31))
def test_the_first_days_are_those_of_a_plain_account(problem: PerishableProblem, seed: int) -> None:
    policy = any_policy(problem, seed)
    exact = first_days(problem, policy, 6)
    for day, plain in zip(exact, played(problem, policy, 6), strict=True):
        assert vars(day) == pytest.approx(plain, abs=1e-12)


@thorough
@given(problems(), st.integers(0, 2**31))
def test_every_unit_baked_is_sold_or_disposed_of(problem: PerishableProblem, seed: int) -> None:
    rates = evaluate(problem, any_policy(problem, seed))
    assert rates.baked == pytest.approx(rates.sold + rates.wasted, abs=1e-8)
    assert rates.sold + rates.short == pytest.approx(problem.mean_demand.mean(), abs=1e-9)
    assert rates.bakes <= 1 + 1e-9
    assert all(rate >= -1e-12 for name, rate in vars(rates).items() if name != "cost")


@thorough
@given(problems(), st.integers(0, 2**31))
def test_the_best_policy_costs_its_gain_and_no_other_costs_less(
    problem: PerishableProblem, seed: int
) -> None:
    plan = solve(problem)
    assert plan.gain is not None
    assert evaluate(problem, plan.batch).cost == pytest.approx(plan.gain, abs=plan.error + 1e-6)
    assert evaluate(problem, any_policy(problem, seed)).cost >= plan.gain - plan.error - 1e-6


@thorough
@given(problems(), st.integers(0, 2**31))
def test_discounted_values_are_the_discounted_costs_of_the_policy(
    problem: PerishableProblem, seed: int
) -> None:
    problem = replace(problem, discount=0.8)
    plan = solve(problem)
    empty = (0,) * (1 + len(problem.shelf_shape))

    def cost(policy: Ints) -> float:
        # 0.8^100 of any cost here is below 1e-7
        return sum(0.8**day * r.cost for day, r in enumerate(first_days(problem, policy, 100)))

    assert plan.gain is None
    assert cost(plan.batch) == pytest.approx(plan.value[empty], abs=2 * plan.error + 1e-6)
    assert cost(any_policy(problem, seed)) >= plan.value[empty] - plan.error - 1e-6


@settings(max_examples=30, deadline=None, derandomize=True)
@given(problems(), st.sampled_from([None, 0.8]), st.integers(0, 2**31))
def test_values_and_batches_are_those_of_the_best_next_step(
    problem: PerishableProblem, discount: float | None, seed: int
) -> None:
    """Bellman's equation in the plain account, for some shelves of each day."""
    problem = replace(problem, discount=discount)
    plan = solve(problem, tolerance=1e-9)
    rng = np.random.default_rng(seed)
    for day in range(problem.n_days):
        shelf = tuple(int(rng.integers(size)) for size in problem.shelf_shape)
        if sum(shelf) > room(problem):
            shelf = (0,) * len(shelf)
        costs = {
            batch: sum(
                chance
                * (
                    amounts["cost"]
                    + (discount or 1.0) * plan.value[((day + 1) % problem.n_days, *tomorrow)]
                )
                for chance, amounts, tomorrow in one_day(problem, day, shelf, batch)
            )
            for batch in allowed(problem, day, sum(shelf))
        }
        least = min(costs.values())
        assert plan.value[(day, *shelf)] == pytest.approx(least - (plan.gain or 0.0), abs=1e-6)
        assert costs[int(plan.batch[(day, *shelf)])] == pytest.approx(least, abs=1e-6)


@thorough
@given(problems(), st.sampled_from([None, 0.8]))
def test_a_rough_answer_is_as_near_as_its_bound_says(
    problem: PerishableProblem, discount: float | None
) -> None:
    problem = replace(problem, discount=discount)
    rough, fine = solve(problem, tolerance=1.0), solve(problem, tolerance=1e-9)
    if discount is None:
        assert rough.gain is not None
        assert fine.gain is not None
        assert abs(rough.gain - fine.gain) <= rough.error + 1e-8
    else:
        assert np.abs(rough.value - fine.value).max() <= rough.error + 1e-7


@thorough
@given(problems(), st.sampled_from(["oldest", "freshest"]), st.integers(0, 2**31))
def test_a_share_of_all_or_none_is_the_pure_problem(
    problem: PerishableProblem, picks: Literal["oldest", "freshest"], seed: int
) -> None:
    """Two sets of loops: one for shoppers of one kind, one for both kinds."""
    pure = replace(problem, lead_days=0, picks=picks, max_to_sell=None)
    share = replace(pure, picks=1.0 if picks == "oldest" else 0.0)
    plans = [solve(asked, tolerance=1e-10) for asked in (pure, share)]
    assert plans[1].gain == pytest.approx(plans[0].gain, abs=1e-9)
    assert plans[1].value == pytest.approx(plans[0].value, abs=1e-8)
    policy = any_policy(pure, seed)
    rates = [vars(evaluate(asked, policy)) for asked in (pure, share)]
    assert rates[1] == pytest.approx(rates[0], abs=1e-9)


@thorough
@given(problems())
def test_a_longer_life_never_costs_more(problem: PerishableProblem) -> None:
    """Without a cost of holding: a unit that keeps for another day may be sold then.

    Holding would break it: a unit disposed of for nothing is cheaper than one that is held. So
    would a cost of the last day, when the day after it is one on which nobody comes.
    """
    free = dict.fromkeys(("hold_cost", *LAST_DAY_COSTS), 0.0)
    problem = replace(problem, max_to_sell=None, **free)
    short_lived, longer = solve(problem), solve(replace(problem, shelf_life=problem.shelf_life + 1))
    assert short_lived.gain is not None
    assert longer.gain is not None
    assert longer.gain <= short_lived.gain + short_lived.error + longer.error + 1e-9


@thorough
@given(problems(), st.integers(0, 2**31))
def test_oldest_first_wastes_no_more_than_freshest_first(
    problem: PerishableProblem, seed: int
) -> None:
    """For batches that do not look at the shelf, and for the optimum when holding is free.

    And for a price that is not reduced: oldest first sells more on the last day.
    """
    problem = replace(problem, max_to_sell=None, **dict.fromkeys(LAST_DAY_COSTS, 0.0))
    oldest, freshest = replace(problem, picks="oldest"), replace(problem, picks="freshest")
    by_day = any_policy(replace(problem, shelf_life=1, lead_days=0), seed)
    places = len(problem.shelf_shape)
    policy = np.broadcast_to(
        by_day.reshape(-1, *(1,) * places), (problem.n_days, *problem.shelf_shape)
    )
    assert evaluate(oldest, policy).wasted <= evaluate(freshest, policy).wasted + 1e-9
    best = [solve(replace(asked, hold_cost=0.0)) for asked in (oldest, freshest)]
    assert best[0].gain is not None
    assert best[1].gain is not None
    assert best[0].gain <= best[1].gain + best[0].error + best[1].error + 1e-9


@settings(max_examples=15, deadline=None, derandomize=True)
@given(problems())
def test_a_rule_that_may_do_more_never_costs_more(problem: PerishableProblem) -> None:
    def cost(ceiling: bool, age: bool) -> float:
        rule = best_top_up(problem, ceiling=ceiling, age=age)
        return evaluate(problem, top_up_policy(problem, rule)).cost

    plain, full = cost(False, False), cost(True, True)
    gain = solve(problem).gain
    assert gain is not None
    assert gain - 1e-6 <= full <= min(cost(True, False), cost(False, True)) + 1e-8
    assert max(cost(True, False), cost(False, True)) <= plain + 1e-8
    by_hand = TopUp(tuple(max(allowed(problem, day)) for day in days(problem)))
    assert gain <= evaluate(problem, top_up_policy(problem, by_hand)).cost + 1e-6
