"""How much faster the kernel is than stockpyl's simulation of the same product, with the same cost.

Run with `--benchmark-enable -s`: the ratio stands in the benchmark's `extra_info`. No time is
asserted. One product, ordered up to a level every night, on the shelf the next morning, and a life
so long that nothing goes out of date: what is short is lost here and owed there, but either way
the next day begins at the level.
"""

import warnings

import numpy as np
from numpy.typing import NDArray
from pytest_benchmark.fixture import BenchmarkFixture
from timing import fastest

from shrinkwise.engine.policy import Days, Policy, Shelf
from shrinkwise.engine.simulate import simulate

with warnings.catch_warnings():
    # an outside package may be behind the warnings of its own dependencies
    warnings.simplefilter("ignore")
    from stockpyl.sim import simulation
    from stockpyl.supply_chain_network import single_stage_system

N_DAYS, LEVEL, LIFE = 1000, 26, 7
HOLDING, SHORT = 1.0, 4.0
MANY_PATHS = 400


def theirs(wanted: NDArray[np.int64]) -> float:
    """Cost of all days by stockpyl."""
    network = single_stage_system(
        holding_cost=HOLDING,
        stockout_cost=SHORT,
        demand_type="D",
        demand_list=wanted.tolist(),
        policy_type="BS",
        base_stock_level=LEVEL,
        shipment_lead_time=1,
    )
    return float(simulation(network, len(wanted), rand_seed=1, progress_bar=False))


def ours(wanted: NDArray[np.int64], n_paths: int) -> float:
    """Cost of all days by the kernel, the same on every path."""
    streams = np.zeros((2, len(wanted), n_paths), np.int16)
    streams[0] = wanted[:, None]
    n_days = len(wanted)
    flows = simulate(
        streams,
        Policy(np.full((1, n_days, 1), LEVEL, np.int16), np.ones(1)),
        Shelf(LIFE),
        Days(np.arange(n_days) % 7, np.ones(n_days, bool)),
    )
    assert not flows.disposed.any()
    # what is left at night is what the next bake need not make up for
    left = n_days * LEVEL - flows.sold_full[0]
    return float((HOLDING * left + SHORT * flows.unmet[0])[0])


def test_kernel_against_stockpyl(benchmark: BenchmarkFixture) -> None:
    wanted = np.random.default_rng(1).poisson(20, N_DAYS)
    # compiled before the clock starts
    ours(wanted, 1)
    cost = benchmark(ours, wanted, MANY_PATHS)
    fast = fastest(lambda: ours(wanted, MANY_PATHS)) / MANY_PATHS
    alone = fastest(lambda: ours(wanted, 1))
    slow = fastest(lambda: theirs(wanted), rounds=2)
    benchmark.extra_info["times_as_fast_as_stockpyl"] = slow / fast
    benchmark.extra_info["times_as_fast_with_one_path"] = slow / alone
    print(
        f"\nkernel: {slow / fast:,.0f} times as fast as stockpyl with {MANY_PATHS} paths at once, "
        f"{slow / alone:,.0f} times with one"
    )
    assert theirs(wanted) == cost
