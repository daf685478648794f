"""How much faster the kernel is than the plain account of the same days.

Run with `--benchmark-enable --benchmark-json=FILE`: the ratio stands in the file's `extra_info`.
No time is asserted: a slow machine is no fault of the code.
"""

from time import perf_counter

import numpy as np
from pytest_benchmark.fixture import BenchmarkFixture

from shrinkwise.engine.policy import Days, Policy, Shelf
from shrinkwise.engine.simulate import Flows, simulate
from shrinkwise.sample.shoppers import Shoppers
from shrinkwise.sample.store_days import play_days
from shrinkwise.sample.truth import TRUTH

N_DAYS, N_PATHS, N_PLANS = 105, 120, 50


def test_kernel_against_the_plain_account(benchmark: BenchmarkFixture) -> None:
    line = TRUTH.line("White loaf")
    rng = np.random.default_rng(1)
    streams = rng.poisson(16, (2, N_DAYS, N_PATHS)).astype(np.int16)
    policy = Policy(np.full((N_PLANS, N_DAYS, 1), 60, np.int16), np.ones(N_PLANS))
    shelf = Shelf(line.coded_life_days, line.settings.reduce_on_day)
    days = Days(np.arange(N_DAYS) % 7, np.ones(N_DAYS, bool))

    def kernel() -> Flows:
        return simulate(streams, policy, shelf, days)

    # compiled before the clock starts
    kernel()
    flows = benchmark(kernel)

    begun = perf_counter()
    book = play_days(
        line,
        Shoppers.plain(streams[0, :, 0], streams[1, :, 0]),
        TRUTH.start,
        None,
        lambda day, on_hand: max(0, 60 - on_hand),
        rng,
    )
    plain = perf_counter() - begun
    begun = perf_counter()
    kernel()
    fast = perf_counter() - begun
    plan_days = N_PLANS * N_PATHS * N_DAYS
    benchmark.extra_info["plan_days"] = plan_days
    benchmark.extra_info["million_plan_days_per_second"] = plan_days / fast / 1e6
    benchmark.extra_info["times_as_fast_as_the_plain_account"] = (plain / N_DAYS) / (
        fast / plan_days
    )
    ratio = benchmark.extra_info["times_as_fast_as_the_plain_account"]
    print(f"\nkernel: {plan_days / fast / 1e6:.0f} million plan-days a second, {ratio:.0f} times")
    assert flows.baked.any()
    assert book.baked.any()
