"""Topped up to S every day and sold oldest first: units out of date a day, exact and bounded.

The bounds E(S - D_m)+ / m <= out of date a day <= E(S / m - D_1)+ for a shelf life of m days are
those of D. Chazan, S. Gal, A Markovian model for a perishable product inventory, Management
Science 23(5), 1977 (the statement from memory; D_k is the demand of k days). The exact rates are
computed from the Markov chain of the shelf, printed in no source.
"""

import numpy as np
import pytest

from shrinkwise.engine.policy import Days, Policy, Shelf
from shrinkwise.engine.simulate import Flows, simulate

# life, S, lower bound, exact (computed), upper bound; demand Poisson(4) a day
CASES = {
    (2, 5): (0.079561, 0.122524, 0.228945),
    (2, 6): (0.175179, 0.248536, 0.347997),
    (2, 7): (0.331866, 0.435714, 0.564732),
    (2, 8): (0.558346, 0.684584, 0.781467),
    (2, 10): (1.212932, 1.343467, 1.410304),
    (2, 12): (2.064913, 2.159124, 2.195435),
    (3, 6): (0.010280, 0.023312, 0.109894),
    (3, 8): (0.055389, 0.105093, 0.268629),
}
N_PATHS, N_DAYS, SETTLING = 2000, 1030, 30


def topped_up(life: int, oldest: bool) -> tuple[list[int], Flows]:
    """The levels of one shelf life on the same demand, from an empty shelf."""
    levels = [level for of_life, level in CASES if of_life == life]
    streams = np.zeros((2, N_DAYS, N_PATHS), np.int16)
    streams[0 if oldest else 1] = np.random.default_rng(3).poisson(4, (N_DAYS, N_PATHS))
    policy = Policy(
        np.repeat(np.array(levels, np.int16)[:, None, None], N_DAYS, axis=1), np.ones(len(levels))
    )
    days = Days(np.arange(N_DAYS) % 7, np.ones(N_DAYS, bool), SETTLING)
    return levels, simulate(streams, policy, Shelf(life), days)


@pytest.mark.parametrize("life", [2, 3])
def test_units_out_of_date_are_the_exact_rate_within_the_bounds(life: int) -> None:
    levels, flows = topped_up(life, oldest=True)
    rates = flows.disposed / (N_DAYS - SETTLING)
    for level, by_path in zip(levels, rates, strict=True):
        lower, exact, upper = CASES[life, level]
        mean = by_path.mean()
        error = by_path.std(ddof=1) / np.sqrt(N_PATHS)
        assert abs(mean - exact) < 4 * error
        # sharp enough that another rule of the day could not pass by luck
        assert 4 * error < 0.03 * exact
        assert lower < mean < upper


def test_freshest_first_shoppers_break_the_upper_bound() -> None:
    """The bounds are those of oldest first alone: the test above can tell the two apart."""
    levels, flows = topped_up(2, oldest=False)
    rates = flows.disposed.mean(axis=1) / (N_DAYS - SETTLING)
    upper = [CASES[2, level][2] for level in levels]
    assert (rates > upper).any()
