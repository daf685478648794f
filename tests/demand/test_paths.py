"""What paths share: the shock of a day and the drift of the store."""

from dataclasses import replace
from datetime import timedelta
from itertools import combinations

import numpy as np
import pytest

from shrinkwise.demand.effects import weekly_change
from shrinkwise.demand.model import DemandModel
from shrinkwise.demand.paths import drawn_units, drifted, store_shocks

AHEAD = np.arange(1, 92)


def test_shared_and_own_noise_make_up_the_dispersion() -> None:
    """Two lines at 50 a day: variance mean + alpha mean^2 each, covariance shock x mean^2."""
    n_paths, mean, alpha, shock = 2000, 50.0, 0.12, 0.04
    shocks = store_shocks(AHEAD, n_paths, shock, seed=1)
    means = np.full((len(AHEAD), n_paths), mean)
    one, other = (
        drawn_units(means, np.full(n_paths, alpha), shocks, np.random.default_rng(seed))[0]
        for seed in (2, 3)
    )
    n = one.size
    assert one.mean() == pytest.approx(mean, abs=4 * one.std() / np.sqrt(n))
    assert one.var() == pytest.approx(mean + alpha * mean**2, rel=0.02)
    shared = np.cov(one.ravel(), other.ravel())[0, 1]
    assert shared == pytest.approx(shock * mean**2, rel=0.05)


def test_a_line_with_little_noise_keeps_some_of_its_own() -> None:
    shocks = store_shocks(AHEAD, 2000, 0.5, seed=1)
    means = np.full((len(AHEAD), 2000), 50.0)
    calm, _ = drawn_units(means, np.full(2000, 0.05), shocks, np.random.default_rng(2))
    assert calm.var() == pytest.approx(50 + 0.05 * 50**2, rel=0.02)


def test_the_level_drifts_from_week_to_week_and_not_within() -> None:
    walk = drifted(AHEAD, 4000, 0.02, np.random.default_rng(1))
    assert not walk[:7].any()
    assert (walk[7:14] == walk[7]).all()
    assert walk[-1].std() == pytest.approx(0.02 * np.sqrt(12), rel=0.05)
    factor = np.exp(walk[-1])
    assert factor.mean() == pytest.approx(1, abs=4 * factor.std() / np.sqrt(4000))


def test_lines_of_a_store_drift_together_and_their_doubt_grows(sample_demand: DemandModel) -> None:
    """Weekly units over what could be known: the lines' ratios move together, more each week."""
    start = sample_demand.calendar.origin + timedelta(days=1)
    paths = replace(sample_demand, shock=0.0).paths(start, 91, 2000, seed=2)
    names = [name for name, means in paths.means.items() if means.mean() > 10]
    first, last = (
        [
            paths.units[name][days].sum(axis=0) / paths.means[name][days].sum(axis=0)
            for name in names
        ]
        for days in (slice(0, 7), slice(84, 91))
    )
    together = [np.cov(one, other)[0, 1] for one, other in combinations(last, 2)]
    apart = [np.cov(one, other)[0, 1] for one, other in combinations(first, 2)]
    assert np.mean(together) == pytest.approx(weekly_change("store") ** 2 * 12, rel=0.25)
    assert abs(np.mean(apart)) < 0.2 * np.mean(together)
    grown = np.mean([late.var() - early.var() for late, early in zip(last, first, strict=True)])
    each_week = weekly_change("store") ** 2 + weekly_change("line") ** 2
    assert grown == pytest.approx(each_week * 12, rel=0.35)


def test_the_shock_is_the_same_whatever_lines_there_are() -> None:
    one, other = (store_shocks(AHEAD, 10, 0.1, seed) for seed in (5, 5))
    assert np.array_equal(one.day, other.day)
    assert not np.array_equal(one.day, store_shocks(AHEAD, 10, 0.1, 6).day)
