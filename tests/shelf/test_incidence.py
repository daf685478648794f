"""Cumulative incidence by hand, and why whole groups of batches are resampled."""

import numpy as np
import pytest
from numpy.typing import NDArray

from shrinkwise.shelf.incidence import (
    cumulative_incidence,
    resampled,
    units_at_risk,
)

Floats = NDArray[np.float64]


def test_two_ways_by_hand() -> None:
    """10 units: 4 and 1 leave at once; of 5, one is lost sight of; of 4, two and one leave."""
    left = np.array([[4.0, 2.0], [1.0, 1.0]])
    lost = np.array([1.0, 1.0])
    at_risk = units_at_risk(left, lost)
    assert at_risk.tolist() == [10, 4]
    found = cumulative_incidence(left, at_risk)
    assert found.by_way == pytest.approx(np.array([[0.4, 0.4 + 0.5 / 2], [0.1, 0.1 + 0.5 / 4]]))
    assert found.still_there == pytest.approx([0.5, 0.125])


def test_nobody_lost_sight_of_is_plain_counting() -> None:
    left = np.random.default_rng(1).integers(0, 9, (3, 4)).astype(float)
    found = cumulative_incidence(left, units_at_risk(left, np.zeros(4)))
    assert found.by_way == pytest.approx(left.cumsum(axis=1) / left.sum())
    assert found.still_there[-1] == pytest.approx(0.0, abs=1e-12)


def test_times_after_the_last_unit_change_nothing() -> None:
    found = cumulative_incidence([[3.0, 0.0]], [4.0, 0.0])
    assert found.by_way.tolist() == [[0.75, 0.75]]


@pytest.mark.parametrize(("left", "at_risk"), [([[3.0]], [2.0]), ([[-1.0]], [2.0])])
def test_more_units_than_there_are_refused(left: list[list[float]], at_risk: list[float]) -> None:
    with pytest.raises(ValueError, match="no more than at_risk"):
        cumulative_incidence(left, at_risk)


def weeks_of_batches(n_weeks: int, rng: np.random.Generator) -> tuple[Floats, NDArray[np.int64]]:
    """Batches of 20 units, 5 a week: sold on day 1, 2 or thrown, by the week's and day's luck."""
    weekly = rng.normal(0, 0.5, n_weeks).repeat(5)
    chance = 1 / (1 + np.exp(-weekly - rng.normal(0.4, 0.7, 5 * n_weeks)))
    first = rng.binomial(20, chance)
    second = rng.binomial(20 - first, chance)
    thrown = 20 - first - second
    left = np.zeros((1, 2, 5 * n_weeks, 2))
    left[0, 0] = np.stack([first, second], axis=1)
    left[0, 1, :, 1] = thrown
    return left, np.arange(n_weeks).repeat(5)


def by_units(left: Floats) -> tuple[Floats, NDArray[np.int64]]:
    """The same units, each a batch and a group of its own: taken for independent."""
    n_ways, n_times = left.shape[1], left.shape[3]
    counts = left[0].sum(axis=1).astype(int)
    units = np.zeros((1, n_ways, counts.sum(), n_times))
    row = 0
    for way in range(n_ways):
        for time in range(n_times):
            units[0, way, row : row + counts[way, time], time] = 1.0
            row += counts[way, time]
    return units, np.arange(row)


def test_units_taken_for_independent_give_intervals_that_are_far_too_narrow() -> None:
    """60 stores of 15 weeks: 90% intervals of the share sold on day 1 and of the share thrown."""
    truth, _ = weeks_of_batches(20_000, np.random.default_rng(1))
    share = truth[0].sum(axis=1) / truth.sum()
    sold_at_once, thrown = share[0, 0], share[1, 1]
    covered, width = np.zeros((2, 2)), np.zeros(2)
    for store in range(60):
        left, weeks = weeks_of_batches(15, np.random.default_rng([2, store]))
        for kind, (units, groups) in enumerate([(left, weeks), by_units(left)]):
            found = resampled(units, np.zeros_like(units[:, 0]), groups, store)
            covered[kind, 0] += found.low[0, 0] <= sold_at_once <= found.high[0, 0]
            covered[kind, 1] += found.low[1, 1] <= thrown <= found.high[1, 1]
            width[kind] += found.high[1, 1] - found.low[1, 1]
    print(f"\ncovered of 60, by weeks {covered[0]}, by units {covered[1]}; widths {width}")
    # binomial of 60 at 0.9: under 46 happens once in 400
    assert (covered[0] >= 46).all()
    assert (covered[1] <= 40).all()
    assert width[1] < 0.6 * width[0]


def test_the_doubt_about_what_happened_is_in_the_interval() -> None:
    """Two accounts: all sold at full price, or half of it reduced; nobody knows which."""
    left = np.zeros((2, 2, 30, 1))
    left[0, 0], left[1, 0], left[1, 1] = 10.0, 5.0, 5.0
    found = resampled(left, np.zeros((2, 30, 1)), np.arange(30), seed=1)
    assert found.share[:, 0] == pytest.approx([0.75, 0.25])
    assert found.low[0, 0] == pytest.approx(0.5)
    assert found.high[0, 0] == pytest.approx(1.0)


def test_the_same_seed_gives_the_same_interval() -> None:
    left, weeks = weeks_of_batches(10, np.random.default_rng(3))
    lost = np.zeros((1, 50, 2))
    one, two = (resampled(left, lost, weeks, seed=7) for _ in range(2))
    assert (one.low == two.low).all()
    assert (one.low != resampled(left, lost, weeks, seed=8).low).any()
