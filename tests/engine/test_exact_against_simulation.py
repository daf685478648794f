"""The simulator and the exact rates are two accounts of the same days."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from shrinkwise.engine.exact import PerishableProblem, TopUp, evaluate, top_up_policy
from shrinkwise.engine.policy import NO_BAKE, Days, Policy, Shelf
from shrinkwise.engine.simulate import Flows, simulate

N_PATHS, SETTLING, WEEKS = 2000, 28, 30
N_DAYS = SETTLING + 7 * WEEKS

# mean and size of each weekday's negative binomial
WEEK = [(5.7, 3.5), (6.9, 11.0), (6.5, 7.2), (6.2, 11.1), (5.8, 5.9), (3.3, 5.5), (3.4, 2.2)]
DEMAND = [stats.nbinom(size, size / (size + mean)) for mean, size in WEEK]

CASES = {
    "every day": (3, 1, (12, 13, 12, 11, 10, 7, 9)),
    "in fours on some days": (4, 4, (17, 0, 15, 0, 16, 0, 0)),
    "one day on sale": (1, 1, (8, 9, 9, 8, 8, 5, 5)),
}


def problem_of(life: int, step: int, oldest: bool) -> PerishableProblem:
    pmfs = []
    for demand in DEMAND:
        pmf = demand.pmf(np.arange(60))
        pmf[-1] = demand.sf(58)
        pmfs.append(pmf)
    return PerishableProblem(
        demand=pmfs,
        shelf_life=life,
        picks="oldest" if oldest else "freshest",
        # above all targets, rounded up: no batch is cut
        max_batch=20,
        batch_step=step,
        unit_cost=0,
        bake_cost=0,
        short_cost=0,
        waste_cost=0,
        hold_cost=0,
    )


def simulated(life: int, step: int, targets: tuple[int, ...], oldest: bool) -> Flows:
    rng = np.random.default_rng(11)
    demand = np.stack([DEMAND[day % 7].rvs(N_PATHS, random_state=rng) for day in range(N_DAYS)])
    streams = np.zeros((2, N_DAYS, N_PATHS), np.int16)
    streams[0 if oldest else 1] = demand
    levels = np.array([targets[day % 7] or NO_BAKE for day in range(N_DAYS)], np.int16)
    policy = Policy(levels[None, :, None], np.ones(1), batch_step=step)
    weekdays = np.arange(N_DAYS) % 7
    return simulate(streams, policy, Shelf(life), Days(weekdays, np.ones(N_DAYS, bool), SETTLING))


@pytest.mark.parametrize("oldest", [True, False], ids=["oldest first", "freshest first"])
@pytest.mark.parametrize("case", CASES)
def test_rates_agree_within_four_standard_errors(case: str, oldest: bool) -> None:
    life, step, targets = CASES[case]
    problem = problem_of(life, step, oldest)
    exact = evaluate(problem, top_up_policy(problem, TopUp(targets)))
    flows = simulated(life, step, targets, oldest)
    paths: dict[str, NDArray[np.int32]] = {
        "baked": flows.baked[0].sum(axis=0),
        "bakes": flows.bakes[0].sum(axis=0),
        "sold": flows.sold_full[0],
        "short": flows.unmet[0],
        "wasted": flows.disposed[0],
    }
    for name, of_path in paths.items():
        rates = of_path / (7 * WEEKS)
        error = rates.std(ddof=1) / np.sqrt(N_PATHS)
        assert abs(rates.mean() - getattr(exact, name)) < 4 * error + 1e-12, name
        # sharp enough that another order of the day could not pass by luck
        assert 4 * error < 0.04 * max(getattr(exact, name), 0.02), name


def test_the_two_kinds_of_shoppers_are_told_apart() -> None:
    """The other side: with the shoppers of the other kind the rates do not agree."""
    life, step, targets = CASES["every day"]
    problem = problem_of(life, step, oldest=True)
    policy = top_up_policy(problem, TopUp(targets))
    wasted = [evaluate(replace(problem, picks=p), policy).wasted for p in ("oldest", "freshest")]
    assert wasted[1] > 1.2 * wasted[0]
