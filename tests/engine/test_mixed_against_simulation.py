"""Shoppers of both kinds: the simulator and the exact rates are two accounts of the same days."""

from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from shrinkwise.engine.exact import PerishableProblem, TopUp, evaluate, top_up_policy
from shrinkwise.engine.policy import NO_BAKE, Days, Policy, Shelf
from shrinkwise.engine.simulate import Flows, simulate
from shrinkwise.engine.streams import split_demand

N_PATHS, SETTLING, WEEKS = 2000, 28, 30
N_DAYS = SETTLING + 7 * WEEKS

# mean and size of each weekday's negative binomial; nobody comes on a Sunday
WEEK = [(5.7, 3.5), (6.9, 11.0), (6.5, 7.2), (6.2, 11.1), (5.8, 5.9), (3.3, 5.5)]
DEMAND = [stats.nbinom(size, size / (size + mean)) for mean, size in WEEK]
OPEN = np.array([True] * 6 + [False])
PAN = 4


@dataclass(frozen=True)
class Case:
    """A top-up; no bake where the target is 0."""

    life: int
    share: float
    targets: tuple[int, ...]
    step: int = 1
    least: int = 0


CASES = {
    "one day on sale": Case(1, 0.4, (8, 9, 9, 8, 8, 5, 0)),
    "two days, every day": Case(2, 0.4, (11, 12, 11, 10, 9, 5, 0)),
    "two days, no bake below six": Case(2, 0.8, (12, 13, 12, 12, 10, 7, 0), least=6),
    "three days, every day": Case(3, 0.6, (12, 13, 12, 11, 10, 7, 0)),
    "three days, in twos on some days": Case(3, 0.25, (16, 0, 15, 0, 13, 0, 0), step=2),
    "four days, in fours": Case(4, 0.7, (17, 0, 15, 0, 16, 0, 0), step=4),
}
by_case = pytest.mark.parametrize("name", CASES)


def problem_of(case: Case, **costs: float) -> PerishableProblem:
    pmfs = []
    for demand in DEMAND:
        pmf = demand.pmf(np.arange(60))
        pmf[-1] = demand.sf(58)
        pmfs.append(pmf)
    free = dict.fromkeys(("unit_cost", "bake_cost", "short_cost", "waste_cost", "hold_cost"), 0.0)
    return PerishableProblem(
        demand=[*pmfs, np.ones(1)],
        shelf_life=case.life,
        picks=case.share,
        # above all targets, rounded up: no batch is cut
        max_batch=20,
        batch_step=case.step,
        min_batch=case.least,
        bakes_on=[target > 0 for target in case.targets],
        units_per_pan=PAN,
        **(free | costs),
    )


@cache
def simulated(case: Case) -> Flows:
    """Reduced on the last day, so that what is labelled and sold then is counted."""
    rng = np.random.default_rng(11)
    demand = np.zeros((N_DAYS, N_PATHS), np.int64)
    for day in range(N_DAYS):
        if OPEN[day % 7]:
            demand[day] = DEMAND[day % 7].rvs(N_PATHS, random_state=rng)
    streams = split_demand(demand, np.full(N_PATHS, case.share), seed=5)
    levels = np.array([case.targets[day % 7] or NO_BAKE for day in range(N_DAYS)], np.int16)
    policy = Policy(
        levels[None, :, None],
        np.ones(1),
        batch_step=case.step,
        units_per_pan=PAN,
        least_batch=-(-case.least // case.step) * case.step,
    )
    weekdays = np.arange(N_DAYS) % 7
    shelf = Shelf(case.life, reduce_on_day=case.life)
    return simulate(streams, policy, shelf, Days(weekdays, OPEN[weekdays], SETTLING))


def agree(of_path: NDArray[np.int32], exact: float, name: str) -> None:
    rates = of_path / (7 * WEEKS)
    error = rates.std(ddof=1) / np.sqrt(N_PATHS)
    assert abs(rates.mean() - exact) < 4 * error + 1e-12, name
    # sharp enough that another order of the day could not pass by luck
    assert 4 * error < 0.05 * max(exact, 0.02), name


@by_case
def test_rates_agree_within_four_standard_errors(name: str) -> None:
    case = CASES[name]
    problem = problem_of(case)
    exact = evaluate(problem, top_up_policy(problem, TopUp(case.targets)))
    flows = simulated(case)
    agree(flows.baked[0].sum(axis=0), exact.baked, "baked")
    agree(flows.bakes[0].sum(axis=0), exact.bakes, "bakes")
    agree(flows.sold_full[0] + flows.sold_reduced[0], exact.sold, "sold")
    agree(flows.unmet[0], exact.short, "short")
    agree(flows.disposed[0], exact.wasted, "wasted")


@by_case
def test_what_is_paid_for_is_what_the_simulator_counts(name: str) -> None:
    """A cost of 1 for one thing at a time: pans, labels, units sold on their last day."""
    case = CASES[name]
    policy = top_up_policy(problem_of(case), TopUp(case.targets))
    flows = simulated(case)
    counts = {
        "pan_cost": flows.pans[0],
        "last_day_cost": flows.labelled[0],
        "last_sale_cost": flows.sold_reduced[0],
    }
    for cost, count in counts.items():
        agree(count, evaluate(problem_of(case, **{cost: 1.0}), policy).cost, cost)


def test_the_shares_are_told_apart() -> None:
    """The other side: with another share of the oldest-first the rates do not agree."""
    case = CASES["three days, every day"]
    problem = problem_of(case)
    policy = top_up_policy(problem, TopUp(case.targets))
    wasted = [evaluate(replace(problem, picks=p), policy).wasted for p in (0.6, 0.5)]
    assert wasted[1] > 1.1 * wasted[0]


def test_room_that_is_never_filled_does_not_matter() -> None:
    """And room that is filled does: `full` tells which."""
    case = CASES["three days, every day"]
    problem = problem_of(case)
    plain = evaluate(problem, top_up_policy(problem, TopUp(case.targets)))
    assert plain.full == 0.0
    # the largest target is 13
    for room, is_enough in ((14, True), (13, False), (12, False)):
        tight = replace(problem, max_batch=min(room, 13), max_to_sell=room)
        rates = evaluate(tight, top_up_policy(tight, TopUp(case.targets)))
        assert (rates.full == 0.0) == is_enough
        if is_enough:
            assert vars(rates) == pytest.approx(vars(plain), abs=1e-12)
