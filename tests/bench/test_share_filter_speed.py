"""How much faster the particle filter is than the same steps in numpy, and that both agree.

Run with `--benchmark-enable -s`: the ratio stands in the benchmark's `extra_info`. No time is
asserted.
"""

from time import perf_counter

import numpy as np
import pytest
from numpy.typing import NDArray
from pytest_benchmark.fixture import BenchmarkFixture
from scipy.stats import binom

from shrinkwise.demand.model import DemandModel
from shrinkwise.engine.share_filter import Followed, Logged, follow
from shrinkwise.shelf.share import COARSE, IMPOSSIBLE, MOST_DAYS, PARTICLES

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


def plain(logged: Logged, life: int, shares: Floats, chances: Floats) -> Followed:
    """The same filter with array expressions, all shares and particles at once."""
    n, n_particles = len(shares), chances.shape[1] - 1
    shelf = np.zeros((n, n_particles, life), np.int64)
    log_likelihood, log_weights = np.zeros(n), np.zeros((n, n_particles))
    for day, (baked, sold, early, thrown, on_hand, by_age) in enumerate(zip(*logged, strict=True)):
        shelf[..., 0] = baked
        chance = chances[day, :-1]
        shelf = without_early(shelf, by_age, early, chance)
        left, likelihood = after_sales(shelf, sold, thrown, shares, chance)
        if day >= life:
            log_weights += np.log(likelihood)
        shelf = overnight(left, on_hand)
        unequal = 1 / np.sum(normal(log_weights) ** 2, axis=1) < n_particles / 2
        for share in np.flatnonzero(unequal):
            at = (np.arange(n_particles) + chances[day, -1]) / n_particles
            picked = np.searchsorted(np.cumsum(normal(log_weights)[share]), at)
            shelf[share] = shelf[share, np.minimum(picked, n_particles - 1)]
        log_likelihood += np.where(unequal, mean_log(log_weights), 0.0)
        log_weights[unequal] = 0.0
    log_likelihood += mean_log(log_weights)
    return Followed(log_likelihood, shelf, normal(log_weights))


def without_early(shelf: Ints, by_age: Ints, early: int, chance: Floats) -> Ints:
    """The shelf less what is disposed of early: by its age, or side by side from a drawn place."""
    left = shelf - np.minimum(shelf, by_age)
    unknown = np.minimum(early + by_age.sum() - (shelf - left).sum(axis=-1), left.sum(axis=-1))
    first = ((chance * 65536) % 1 * (left.sum(axis=-1) - unknown + 1)).astype(int)[..., None]
    from_oldest = np.cumsum(left[..., ::-1], axis=-1)
    gone = np.diff(np.clip(from_oldest, first, first + unknown[..., None]) - first, prepend=0)
    return np.asarray(left - gone[..., ::-1])


def after_sales(
    shelf: Ints, sold: int, thrown: int, shares: Floats, chance: Floats
) -> tuple[Ints, Floats]:
    total, oldest = shelf.sum(axis=-1), shelf[..., -1]
    rest = np.maximum(total - sold, 0)
    low = np.maximum(np.where(thrown < rest, oldest - thrown, 0), 0)
    high = np.minimum(oldest - thrown if thrown > 0 else np.full_like(oldest, sold), sold)
    possible = (low <= high) & (oldest >= thrown) & (thrown <= rest)
    low, high = np.where(possible, low, 0), np.where(possible, high, sold)
    below = np.zeros((len(shares), sold + 2))
    below[:, 1:] = binom.cdf(np.arange(sold + 1), sold, shares[:, None])
    from_low = np.take_along_axis(below, low, axis=1)
    span = np.take_along_axis(below, high + 1, axis=1) - from_low
    target = from_low + chance * span
    k = np.clip((below[:, None, 1:] < target[..., None]).sum(axis=-1), low, high)
    from_oldest = np.cumsum(shelf[..., ::-1], axis=-1)
    start, stop = k[..., None], np.maximum(total - (sold - k), k)[..., None]
    left = np.diff(np.clip(from_oldest, start, stop) - start, axis=-1, prepend=0)[..., ::-1]
    return left, np.where(possible, np.maximum(span, IMPOSSIBLE), IMPOSSIBLE)


def overnight(left: Ints, on_hand: int) -> Ints:
    older = np.zeros_like(left)
    older[..., 1:] = left[..., :-1]
    from_oldest = np.cumsum(older[..., ::-1], axis=-1)
    kept = np.diff(np.minimum(from_oldest, on_hand), axis=-1, prepend=0)[..., ::-1]
    if kept.shape[-1] > 1:
        kept[..., 1] += on_hand - kept.sum(axis=-1)
    return kept


def normal(log_weights: Floats) -> Floats:
    weights = np.exp(log_weights - log_weights.max(axis=1, keepdims=True))
    return np.asarray(weights / weights.sum(axis=1, keepdims=True))


def mean_log(log_weights: Floats) -> Floats:
    most = log_weights.max(axis=1)
    return np.asarray(most + np.log(np.mean(np.exp(log_weights - most[:, None]), axis=1)))


def assert_same(fast: Followed, slow: Followed) -> None:
    assert fast.log_likelihood == pytest.approx(slow.log_likelihood, rel=1e-9)
    assert fast.weights == pytest.approx(slow.weights, rel=1e-9)
    assert (fast.units == slow.units).all()


@pytest.mark.parametrize("life", [1, 2, 3, 6])
def test_the_filter_agrees_with_its_plain_twin_on_logs_that_contradict_each_other(
    life: int,
) -> None:
    """Shares near the middle, where no chance is so close to 1 that its rounding decides."""
    rng = np.random.default_rng(life)
    n_days = 40
    logged = Logged(
        baked=rng.integers(0, 25, n_days),
        sold=rng.integers(0, 20, n_days),
        early=rng.integers(0, 3, n_days),
        disposed_last_day=rng.integers(0, 4, n_days) * rng.integers(0, 2, n_days),
        on_hand_close=rng.integers(0, 30, n_days),
        early_by_age=rng.integers(0, 2, (n_days, life)),
    )
    shares = np.array([0.35, 0.5, 0.65])
    chances = rng.random((n_days, 33))
    differ = False
    for until in range(1, n_days + 1):
        first = Logged(*(units[:until] for units in logged))
        fast = follow(first, True, life, shares, chances[:until], IMPOSSIBLE)
        assert_same(fast, plain(first, life, shares, chances[:until]))
        differ |= bool(fast.units.std(axis=1).any())
    # a shelf of two ages or less follows from what is on hand
    assert differ == (life > 2)


def test_the_filter_against_its_plain_twin(
    benchmark: BenchmarkFixture, sample_demand: DemandModel
) -> None:
    ledger = sample_demand.ledgers["White loaf"]
    days = slice(-MOST_DAYS, None)
    logged = Logged(
        *(
            getattr(ledger, name)[days]
            for name in ("baked", "sold", "disposed_early", "disposed_last_day", "on_hand_close")
        ),
        np.zeros((MOST_DAYS, ledger.line.shelf_life_days), np.int64),
    )
    shares = np.linspace(0.25, 0.45, len(COARSE))
    chances = np.random.default_rng(1).random((MOST_DAYS, PARTICLES + 1))

    def fast() -> Followed:
        return follow(logged, True, ledger.line.shelf_life_days, shares, chances, IMPOSSIBLE)

    # compiled before the clock starts
    fast()
    found = benchmark(fast)
    begun = perf_counter()
    slow = plain(logged, ledger.line.shelf_life_days, shares, chances)
    of_plain = perf_counter() - begun
    begun = perf_counter()
    fast()
    ratio = of_plain / (perf_counter() - begun)
    benchmark.extra_info["times_as_fast_as_numpy"] = ratio
    print(f"\nparticle filter: {ratio:.0f} times as fast as numpy, on one core")
    assert_same(found, slow)
