"""Kinds of shoppers drawn for paths, from draws by hand."""

import numpy as np
import pytest

from shrinkwise.shelf.kind_posterior import FUSSY, OLDEST, SWITCHING, UPLIFT, KindDraws
from shrinkwise.shelf.kinds import NOT_CLEAR, Estimate, LineKinds

N = 400
OLDEST_SHARES = np.linspace(0.1, 0.7, N)
TOLD, UNTOLD = Estimate(0.2, 0.1, 0.3, None), Estimate(0.2, 0.1, 0.3, NOT_CLEAR)


def kinds_of(values: np.ndarray, until_day: np.ndarray, fussy: Estimate = TOLD) -> LineKinds:
    factor = np.repeat(values[:, OLDEST, None], 7, axis=1)
    draws = KindDraws(values, until_day, factor, np.full(len(values), 1 / len(values)))
    return LineKinds(fussy, TOLD, TOLD, draws=draws)


def test_a_path_with_more_oldest_first_shoppers_has_the_kinds_of_such_a_draw() -> None:
    """Draws in which all else follows from the oldest-first share: with switching shoppers it
    makes up eight tenths of all, and the more of them, the fewer come for a bargain."""
    values = np.zeros((N, 4))
    values[:, OLDEST] = OLDEST_SHARES
    values[:, SWITCHING] = 0.8 - OLDEST_SHARES
    values[:, UPLIFT] = 2 * (1 - OLDEST_SHARES)
    shuffled = np.random.default_rng(1).permutation(N)
    shares = np.random.default_rng(2).uniform(0.1, 0.7, 1000)
    found = kinds_of(values[shuffled], np.ones(N, np.int64)).drawn(shares, np.random.default_rng(3))
    assert found is not None
    order = np.argsort(shares)
    assert (np.diff(found.uplift[order]) <= 0).all()
    assert (np.diff(found.factor[:, order]) >= 0).all()
    # drawn from the same distribution: the ranks of two samples of 1,000 lie this near
    assert found.uplift == pytest.approx(2 * (1 - shares), abs=0.1)
    assert found.switching * (1 - shares) == pytest.approx(0.8 - shares, abs=0.05)


def of_two_limit_days(fussy: Estimate) -> LineKinds:
    """Six of ten draws have a fifth of the shoppers fussy, until day 1; the others three fifths,
    until day 2, and bargain shoppers."""
    later = np.arange(N) % 10 >= 6
    values = np.zeros((N, 4))
    values[:, OLDEST] = 0.3
    values[:, FUSSY] = np.where(later, 0.6, 0.2)
    values[:, UPLIFT] = np.where(later, 1.0, 0.0)
    return kinds_of(values, np.where(later, 2, 1), fussy)


def test_fussy_shoppers_of_all_paths_have_one_limit_day() -> None:
    """How many there are depends on until when they take a unit: those of another day are none."""
    found = of_two_limit_days(TOLD).drawn(np.full(500, 0.3), np.random.default_rng(1))
    assert found is not None
    assert found.until_day == 1
    assert found.fussy == pytest.approx(np.full(500, 0.2 / 0.7))
    assert (found.uplift == 0).all()


def test_where_no_fussy_shopper_plays_draws_of_all_limit_days_do() -> None:
    found = of_two_limit_days(UNTOLD).drawn(np.full(500, 0.3), np.random.default_rng(1))
    assert found is not None
    # four of ten, within four standard errors
    assert found.uplift.mean() == pytest.approx(0.4, abs=4 * np.sqrt(0.4 * 0.6 / 500))


def test_shares_of_the_others_never_pass_all_of_them() -> None:
    """On a path with more oldest-first shoppers than any draw, fussy ones go before switching."""
    values = np.array([[0.1, 0.4, 0.4, 0.0]])
    found = kinds_of(values, np.ones(1, np.int64)).drawn(
        np.array([0.1, 0.5, 0.7]), np.random.default_rng(1)
    )
    assert found is not None
    assert found.fussy == pytest.approx([4 / 9, 0.8, 1.0])
    assert found.switching == pytest.approx([4 / 9, 0.2, 0.0])
