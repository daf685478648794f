"""What oldest-first shoppers took of the full-price sales, against shoppers who come in turn."""

import numpy as np
import pytest
from scipy.stats import binom

from shrinkwise.engine.oldest_odds import oldest_odds

N = 300_000
RATE, BARGAINS = 9.0, 1.2
NOT_PUT_OFF, TO_REDUCED = 0.85, 0.6
DAYS = ((5, 0, 0), (5, 2, 2), (3, 4, 4), (0, 3, 3), (7, 1, 1), (4, 2, 5))
"""Sold at the full price, sold reduced, and reduced units in the morning."""


def odds(shares: list[float]) -> np.ndarray:
    full, reduced, there = np.array(DAYS).T
    whole = np.ones(len(DAYS))
    return oldest_odds(
        full,
        reduced,
        there,
        RATE * whole,
        np.array(shares),
        NOT_PUT_OFF * whole,
        TO_REDUCED,
        BARGAINS * whole,
    )


def played(share: float, reduced_there: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Full-price sales to oldest-first shoppers, all full-price sales and reduced ones of N days:
    oldest-first, switching, freshest-first, fussy and bargain shoppers come in this order, and
    there are full-price units for all."""
    rng = np.random.default_rng(1)
    switching, fussy = max(TO_REDUCED - share, 0.0), 0.25
    freshest = 1 - share - switching - fussy
    stay = 1 - (1 - NOT_PUT_OFF) / fussy
    shares = (share, switching, freshest, fussy * stay)
    first, then, fresh, picky = (rng.poisson(RATE * one, N) for one in shares)
    left = np.full(N, reduced_there)
    oldest = np.maximum(first - left, 0)
    left = np.maximum(left - first, 0)
    switched = np.maximum(then - left, 0)
    left = np.maximum(left - then, 0)
    left = np.maximum(left - rng.poisson(BARGAINS, N), 0)
    return oldest, oldest + switched + fresh + picky, reduced_there - left


@pytest.mark.parametrize("share", [0.15, 0.4, 0.7])
def test_chances_are_those_of_shoppers_in_their_order(share: float) -> None:
    """With a share above that of all who take reduced units first, nobody switches."""
    found = odds([share])[0]
    for (full, reduced, there), upto in zip(DAYS, found, strict=True):
        oldest, sold, cheap = played(share, there)
        took = oldest[(sold == full) & (cheap == reduced)]
        assert len(took) > 150
        seen = np.bincount(took, minlength=full + 1) / len(took)
        chance = np.diff(upto[: full + 2])
        error = np.sqrt(chance * (1 - chance) / len(took))
        # some eighty chances are looked at
        assert (np.abs(chance - seen) <= 4 * error + 1e-4).all(), (full, reduced, there)


def test_chances_begin_with_none_and_are_sure_from_all_sales_on() -> None:
    """Also where no share could have been so large."""
    found = odds([0.01, 0.4, 0.84, 0.99])
    assert found.shape == (4, len(DAYS), 9)
    assert (found[:, :, 0] == 0).all()
    for day, (full, _, _) in enumerate(DAYS):
        assert found[:, day, full + 1 :] == pytest.approx(np.ones((4, 8 - full)))
    assert (np.diff(found) >= 0).all()


def test_with_nothing_reduced_they_are_a_share_of_who_bought() -> None:
    upto = odds([0.4])[0, 0]
    assert upto[1:7] == pytest.approx(binom.cdf(np.arange(6), 5, 0.4 / NOT_PUT_OFF))


def test_while_reduced_units_are_left_no_oldest_first_shopper_pays_the_full_price() -> None:
    assert odds([0.4])[0, DAYS.index((4, 2, 5))].tolist() == [0, *[1] * 8]
