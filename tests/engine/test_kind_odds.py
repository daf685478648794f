"""Chances of a day's sales, against days that the kernel plays."""

import numpy as np
import pytest
from numpy.typing import NDArray

from shrinkwise.engine.kind_odds import bargain_odds, fussy_odds
from shrinkwise.engine.policy import NO_BAKE, Days, Policy, Shelf
from shrinkwise.engine.simulate import simulate

N = 40_000
RATE = 9.0


def played(by_age: list[int], shares: tuple[float, ...], bargain: float) -> NDArray[np.int32]:
    """Units sold by age on one day that opens with a shelf, for N draws of the shoppers; fussy
    shoppers take what is fresh, the oldest age is reduced; shape (life, N)."""
    rng = np.random.default_rng(1)
    oldest, fussy, switching = (rng.poisson(RATE * share, N) for share in shares)
    rest = rng.poisson(RATE * (1 - sum(shares)), N)
    kinds = [oldest, rest, fussy, rng.poisson(bargain, N), switching]
    life = len(by_age)
    streams = np.array(kinds, np.int16)[:, None, :]
    opening = np.repeat(np.array([0, *by_age[1:]], np.int16)[:, None], N, axis=1)
    level = by_age[0] if by_age[0] else NO_BAKE
    policy = Policy(np.full((1, 1, 1), level, np.int16), np.array([0.0]))
    days = Days(np.zeros(1, np.int64), np.ones(1, np.bool_))
    return simulate(streams, policy, Shelf(life, life, 1), days, opening).sold_by_age[0]


@pytest.mark.parametrize("by_age", [[0, 6, 30], [4, 4, 30], [8, 0, 30], [5, 3, 4], [30, 5, 5]])
def test_chances_of_sales_with_fussy_shoppers(by_age: list[int]) -> None:
    sold = played(by_age, (0.35, 0.4, 0.0), 0.0).sum(axis=0)
    seen = np.bincount(sold, minlength=41)[:41] / N
    units = np.arange(min(sum(by_age), 40) + 1)
    same = np.full(len(units), sum(by_age)), np.full(len(units), by_age[0])
    odds = fussy_odds(units, *same, np.array([RATE]), 0.35, np.array([0.4]))[:, 0, 0]
    assert odds.sum() == pytest.approx(1, abs=1e-4)
    assert odds == pytest.approx(seen[: len(units)], abs=4 * np.sqrt(0.25 / N))


@pytest.mark.parametrize("by_age", [[20, 5, 3], [20, 5, 12], [5, 2, 3], [4, 0, 9], [0, 6, 4]])
@pytest.mark.parametrize("bargain", [0.0, 3.0])
def test_chances_of_sales_at_both_prices(by_age: list[int], bargain: float) -> None:
    sold = played(by_age, (0.25, 0.0, 0.2), bargain)
    full_there, reduced_there = by_age[0] + by_age[1], by_age[2]
    full, reduced = (
        part.ravel()
        for part in np.meshgrid(np.arange(full_there + 1), np.arange(reduced_there + 1))
    )
    whole = np.ones(len(full), np.int64)
    odds = bargain_odds(
        full,
        reduced,
        full_there * whole,
        reduced_there * whole,
        np.array([RATE]),
        np.array([0.45]),
        np.full((len(full), 1), bargain),
    )[:, 0, 0, 0]
    assert odds.sum() == pytest.approx(1, abs=1e-4)
    pairs = sold[:2].sum(axis=0) * (reduced_there + 1) + sold[2]
    seen = np.bincount(pairs, minlength=(full_there + 1) * (reduced_there + 1)) / N
    assert odds == pytest.approx(seen[full * (reduced_there + 1) + reduced], abs=4 * 0.5 / N**0.5)
