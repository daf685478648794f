"""Batches and pans are rounded up exactly, although the kernel divides in float32."""

import numpy as np
import pytest

from shrinkwise.engine.policy import Days, Policy, Shelf, largest_level
from shrinkwise.engine.simulate import simulate


@pytest.mark.parametrize("step", [1, 2, 3, 7, 12, 49, 128, 333, 500])
def test_every_level_is_lifted_to_whole_steps(step: int) -> None:
    levels = np.arange(largest_level(1, step) + 1)
    policy = Policy(
        levels.astype(np.int16)[:, None, None], np.ones(len(levels)), step, units_per_pan=step
    )
    nobody = np.zeros((2, 1, 1), np.int16)
    flows = simulate(nobody, policy, Shelf(1), Days(np.zeros(1, np.int64), np.ones(1, np.bool_)))
    steps = -(-levels // step)
    assert np.array_equal(flows.baked[:, 0, 0], steps * step)
    assert np.array_equal(flows.pans[:, 0], steps)


def test_counts_beyond_int16_are_whole() -> None:
    """The kernel counts a day in int16: a month of large days is moved to its totals in time."""
    n_days = 30
    streams = np.full((2, n_days, 2), 6_000, np.int16)
    policy = Policy(np.full((1, n_days, 1), 15_000, np.int16), np.ones(1))
    days = Days(np.arange(n_days) % 7, np.ones(n_days, bool), first_day=3)
    flows = simulate(streams, policy, Shelf(2), days)
    assert flows.sold_by_age.sum(axis=1).tolist() == [[27 * 12_000] * 2]
    assert flows.baked.sum(axis=1).tolist() == [[27 * 12_000] * 2]
    assert flows.unmet.tolist() == [[0, 0]]
