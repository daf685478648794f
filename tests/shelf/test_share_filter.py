"""The pieces of the particle filter, against exact values and by hand."""

from fractions import Fraction
from math import comb

import numpy as np
import pytest
from scipy.stats import binom

from shrinkwise.engine.particles import binomial_cdf, bounds, dispose_early, drawn
from shrinkwise.engine.share_filter import Followed, resample_unequal, within_batches


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
