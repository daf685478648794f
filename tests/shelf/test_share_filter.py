"""The pieces of the particle filter, against exact values and by hand."""

from fractions import Fraction
from math import comb

import numpy as np
import pytest
from scipy.stats import binom

from shrinkwise.engine.particles import binomial_cdf, bounds, dispose_early, drawn
from shrinkwise.engine.share_filter import (
    Followed,
    Logged,
    follow,
    resample_unequal,
    within_batches,
)


@pytest.mark.parametrize("n", [0, 1, 7, 80])
@pytest.mark.parametrize("p", [0.0025, 0.02, 0.3, 0.5, 0.98, 0.9975])
def test_binomial_distribution_is_exact(n: int, p: float) -> None:
    """Against rational arithmetic."""
    below = np.full(n + 2, np.nan)
    binomial_cdf(n, p, below)
    share, total, exact = Fraction(p), Fraction(0), [Fraction(0)]
    for k in range(n + 1):
        total += comb(n, k) * share**k * (1 - share) ** (n - k)
        exact.append(total)
    assert below == pytest.approx([float(chance) for chance in exact], abs=1e-14)


@pytest.mark.parametrize("n", [1000, 20_000])
@pytest.mark.parametrize("p", [1e-9, 0.02, 0.5, 0.98, 1 - 1e-9])
def test_binomial_distribution_holds_for_large_sales(n: int, p: float) -> None:
    below = np.full(n + 2, np.nan)
    binomial_cdf(n, p, below)
    assert below[0] == 0
    assert below[1:] == pytest.approx(binom.cdf(np.arange(n + 1), n, p), abs=1e-12)


@pytest.mark.parametrize(
    ("there", "oldest", "sold", "thrown"),
    [(20, 6, 8, 2), (20, 6, 8, 0), (12, 6, 8, 4), (9, 6, 8, 0), (20, 9, 4, 7)],
)
def test_bounds_hold_the_shoppers_that_leave_what_is_thrown(
    there: int, oldest: int, sold: int, thrown: int
) -> None:
    """Against trying every number of oldest-first shoppers."""
    rest = max(there - sold, 0)
    fit = [k for k in range(sold + 1) if min(max(oldest - k, 0), rest) == thrown]
    assert bounds(there, oldest, sold, thrown) == (fit[0], fit[-1], True)


@pytest.mark.parametrize(("oldest", "thrown"), [(6, 7), (9, 4), (2, 3)])
def test_impossible_disposals_leave_all_shoppers_open(oldest: int, thrown: int) -> None:
    """More thrown than there was; more old units than 4 shoppers take; less than nobody left."""
    assert bounds(20, oldest, 4, thrown) == (0, 4, False)


def disposed(stock: list[int], by_age: list[int], unknown: int, u: float) -> list[list[int]]:
    """What is left and what is gone; `u` picks the place of what has no age."""
    left, gone = np.array(stock), np.empty(len(stock), np.int64)
    there = dispose_early(left, np.array(by_age), unknown, u / 65536, gone)
    assert there == left.sum()
    return [left.tolist(), gone.tolist()]


def test_what_is_disposed_of_early_leaves_at_its_age_or_anywhere() -> None:
    assert disposed([5, 3, 2], [0, 2, 0], 0, 0.5) == [[5, 1, 2], [0, 2, 0]]
    # of 10 units in a row, the oldest first, 3 from the first place, the last, and the middle
    assert disposed([5, 3, 2], [0, 0, 0], 3, 0.0) == [[5, 2, 0], [0, 1, 2]]
    assert disposed([5, 3, 2], [0, 0, 0], 3, 0.999) == [[2, 3, 2], [3, 0, 0]]
    assert disposed([5, 3, 2], [0, 0, 0], 3, 0.3) == [[5, 0, 2], [0, 3, 0]]
    # more of an age than there was is of another; never more than all
    assert disposed([5, 3, 2], [0, 4, 0], 0, 0.0) == [[5, 0, 1], [0, 3, 1]]
    assert disposed([1, 0, 2], [0, 4, 0], 5, 0.0) == [[0, 0, 0], [1, 0, 2]]


def test_the_drawn_count_is_the_first_to_reach_its_chance() -> None:
    below = np.array([0.0, 0.1, 0.4, 0.4, 0.9, 1.0])
    assert [drawn(below, 0, 4, at) for at in (0.0, 0.1, 0.2, 0.4, 0.41, 1.0)] == [0, 0, 1, 1, 3, 4]
    assert drawn(below, 2, 3, 0.0) == 2
    assert drawn(below, 2, 3, 1.0) == 3


def test_particles_go_on_as_often_as_their_weights_ask() -> None:
    found = Followed(np.zeros(1), np.arange(8).reshape(1, 4, 2), np.array([[0.0, 3, 1, 0]]))
    resample_unequal(found, 0, 4.0, 0.5)
    assert found.units[0].tolist() == [[2, 3], [2, 3], [2, 3], [4, 5]]
    assert found.weights.tolist() == [[0.25] * 4]


def test_particles_of_much_the_same_weight_stay() -> None:
    units = np.arange(8).reshape(1, 4, 2)
    found = Followed(np.zeros(1), units.copy(), np.array([[2.0, 3, 2, 1]]))
    resample_unequal(found, 0, 8.0, 0.5)
    assert (found.units == units).all()
    assert found.weights.tolist() == [[0.25, 0.375, 0.25, 0.125]]


def test_no_age_holds_more_than_its_batch() -> None:
    """4 too many of age 1: 2 find room at age 2, 2 at age 3."""
    stock = within_batches(np.array([[0, 9, 0, 3]]), np.array([0, 5, 2, 6]))
    assert stock.tolist() == [[0, 5, 2, 5]]


def test_units_beyond_all_batches_stay_in_the_count() -> None:
    stock = within_batches(np.array([0, 9, 4]), np.array([0, 5, 2]))
    assert stock.tolist() == [0, 11, 2]
    assert within_batches(np.array([0]), np.array([0])).tolist() == [0]


def followed(disposed: list[int], shares: np.ndarray, particles: int = 8) -> Followed:
    """A life of two days, 10 baked and 8 sold a day, so that all the morning's old units are those
    of the night before: 6, and before the logs an unknown number."""
    n_days = len(disposed)
    nothing = np.zeros(n_days, np.int64)
    logged = Logged(
        baked=nothing + 10,
        sold=nothing + 8,
        early=nothing,
        disposed_last_day=np.array(disposed),
        on_hand_close=nothing + 6,
        early_by_age=np.zeros((n_days, 2), np.int64),
    )
    chances = np.random.default_rng(1).random((n_days, particles + 1))
    return follow(logged, True, 2, shares, chances, 1e-6)


def test_disposals_of_units_from_before_the_logs_say_nothing_of_the_share() -> None:
    """What leaves on the first two of a life of two days may be of batches that are not logged."""
    shares = np.array([0.1, 0.4, 0.9])
    for disposed in ([0, 0], [5, 2], [0, 5]):
        found = followed(disposed, shares)
        assert found.log_likelihood == pytest.approx(np.zeros(3), abs=1e-12)
        assert found.weights == pytest.approx(np.full((3, 8), 1 / 8))


def test_from_then_on_each_night_tells_how_many_took_the_oldest() -> None:
    """Of 6 old units 2, 3 and 1 are thrown: 4, 3 and 5 of the 8 shoppers took the oldest."""
    shares = np.array([0.1, 0.4, 0.9])
    found = followed([5, 2, 2, 3, 1], shares)
    exact = sum(binom.logpmf(took, 8, shares) for took in (4, 3, 5))
    assert found.log_likelihood == pytest.approx(exact)
    # the night's disposals leave nothing open of the stock, which is all of one age
    assert found.units.tolist() == [[[0, 6]] * 8] * 3
