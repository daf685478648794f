"""Chances of a day's sales, against days that the kernel plays."""

import numpy as np
import pytest

from shrinkwise.engine.kind_odds import SoldDays, kind_odds
from shrinkwise.engine.policy import NO_BAKE, Days, Policy, Shelf
from shrinkwise.engine.simulate import simulate

N = 40_000
RATE = 9.0

CASES = {
    "fussy, nothing fresh": ([0, 6, 30], (0.35, 0.4, 0.0), 0.0, False),
    "fussy, some fresh": ([4, 4, 30], (0.35, 0.4, 0.0), 0.0, False),
    "fussy, all sold out": ([5, 3, 4], (0.35, 0.4, 0.0), 0.0, False),
    "fussy, all fresh": ([30, 0, 0], (0.35, 0.4, 0.1), 0.0, False),
    "fussy, all fresh and sold out": ([6, 0, 0], (0.35, 0.4, 0.1), 0.0, False),
    "few reduced": ([20, 5, 3], (0.25, 0.0, 0.2), 0.3, True),
    "many reduced": ([20, 5, 12], (0.25, 0.0, 0.2), 0.3, True),
    "full price sold out": ([5, 2, 30], (0.25, 0.0, 0.2), 0.3, True),
    "both sold out": ([4, 0, 4], (0.25, 0.0, 0.2), 0.3, True),
    "no bargain": ([5, 2, 3], (0.25, 0.0, 0.2), 0.0, True),
    "all kinds": ([3, 6, 12], (0.2, 0.3, 0.15), 0.5, True),
    "all kinds, all fresh": ([4, 0, 12], (0.2, 0.3, 0.15), 0.5, True),
    "all kinds, all sold out": ([4, 2, 3], (0.25, 0.3, 0.0), 0.5, True),
}


@pytest.mark.parametrize("case", CASES)
def test_chances_of_sales_at_both_prices(case: str) -> None:
    """Fussy shoppers take what is of the day; where any are, the oldest age is reduced."""
    by_age, shares, uplift, reduced = CASES[case]
    rng = np.random.default_rng(1)
    oldest, fussy, switching = (rng.poisson(RATE * share, N) for share in shares)
    rest, bargain = rng.poisson(RATE * (1 - sum(shares)), N), rng.poisson(RATE * uplift, N)
    streams = np.array([oldest, rest, fussy, bargain, switching], np.int16)[:, None, :]
    opening = np.repeat(np.array([0, *by_age[1:]], np.int16)[:, None], N, axis=1)
    level = by_age[0] if by_age[0] else NO_BAKE
    policy = Policy(np.full((1, 1, 1), level, np.int16), np.array([0.0]))
    days = Days(np.zeros(1, np.int64), np.ones(1, np.bool_))
    shelf = Shelf(3, 3 if reduced else None, 1)
    sold = simulate(streams, policy, shelf, days, opening).sold_by_age[0]

    there = [sum(by_age[:2]), by_age[2]] if reduced else [sum(by_age), 0]
    most = [min(units, 40) for units in there]
    full, cheap = (part.ravel() for part in np.meshgrid(*(np.arange(n + 1) for n in most)))
    whole = np.ones(len(full), np.int64)
    told = SoldDays(full, cheap, there[0] * whole, there[1] * whole)
    odds = kind_odds(
        told, by_age[0] * whole, np.array([RATE]), shares, RATE * uplift * np.ones(len(full))
    )[:, 0]
    assert odds.sum() == pytest.approx(1, abs=1e-4)
    both = (sold[:2].sum(axis=0), sold[2]) if reduced else (sold.sum(axis=0), 0)
    pairs = both[0] * (there[1] + 1) + both[1]
    seen = np.bincount(pairs, minlength=(there[0] + 1) * (there[1] + 1)) / N
    off = np.abs(odds - seen[full * (there[1] + 1) + cheap])
    # some hundred pairs are looked at
    assert (off <= 4.5 * np.sqrt(odds / N) + 2e-4).all()
