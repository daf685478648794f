"""Sold-out days: the sales are a floor of the demand. All expected values here are computed
(exact, found with another optimiser, printed in no source)."""

from dataclasses import dataclass

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats
from scipy.optimize import approx_fprime

from shrinkwise.demand.censored import CensoredNegativeBinomial

Floats = NDArray[np.float64]

POISSON_LIMIT = -14.0
"""log alpha at which the variance exceeds the mean by less than a millionth of its square."""


@dataclass(frozen=True)
class Days:
    """Sales of some days with the same stock each day; sold out where nothing was left."""

    stock: int
    sales: tuple[int, ...]

    def model(self, prior_mean: list[float], prior_sd: list[float]) -> CensoredNegativeBinomial:
        y = np.array(self.sales)
        precision = np.diag(np.array(prior_sd) ** -2.0)
        return CensoredNegativeBinomial(
            y, np.ones((len(y), 1)), y == self.stock, np.array(prior_mean), precision
        )


STEADY = Days(10, (7, 9, 10, 6, 8, 10, 10, 5, 9, 10))
WILD = Days(8, (0, 3, 1, 8, 2, 6, 0, 4, 8, 1, 2, 8, 5, 3, 0, 7, 8, 2, 1, 4))


def test_poisson_days() -> None:
    """Mean 9.1787223, log-likelihood -16.948723; the mean of the sales, 8.4, is too low."""
    model = STEADY.model([np.log(8.0), POISSON_LIMIT], [np.inf, 1e-3])
    params, _ = model.fitted()
    assert np.exp(params[0]) == pytest.approx(9.1787223, abs=2e-5)
    assert model.loglikeobs(params).sum() == pytest.approx(-16.948723, abs=2e-5)
    naive = np.mean(STEADY.sales)
    assert naive == pytest.approx(8.4)
    assert np.exp(params[0]) > naive + 0.5


def test_negative_binomial_days() -> None:
    """Mean 4.444871, size 1.187535, log-likelihood -41.864586."""
    model = WILD.model([1.0, -0.5], [np.inf, np.inf])
    params, _ = model.fitted()
    assert np.exp(params[0]) == pytest.approx(4.444871, abs=2e-6)
    assert np.exp(-params[1]) == pytest.approx(1.187535, abs=2e-6)
    assert model.loglikeobs(params).sum() == pytest.approx(-41.864586, abs=1e-6)
    assert np.exp(params[0]) > np.mean(WILD.sales)


def test_leaving_the_sold_out_days_out_is_worse_than_taking_them_at_their_word() -> None:
    """The two naive means err to the same side, and dropping the best days errs more."""
    params, _ = WILD.model([1.0, -0.5], [np.inf, np.inf]).fitted()
    kept = [units for units in WILD.sales if units < WILD.stock]
    assert np.mean(kept) < np.mean(WILD.sales) < np.exp(params[0])


@pytest.mark.parametrize("log_alpha", [-8.0, -2.5, -0.5, 1.0])
@pytest.mark.parametrize("log_mean", [-3.0, 0.5, 3.0])
def test_each_day_counts_as_scipy_says(log_mean: float, log_alpha: float) -> None:
    """log P(D = y) on plain days, log P(D >= y) on sold-out ones, also where y is 0."""
    y = np.array([0, 1, 4, 30, 0, 1, 4, 30])
    floor = np.arange(8) >= 4
    model = CensoredNegativeBinomial(y, np.ones((8, 1)), floor, np.zeros(2), np.zeros((2, 2)))
    mean, size = np.exp(log_mean), np.exp(-log_alpha)
    demand = stats.nbinom(size, size / (size + mean))
    expected = np.where(floor, demand.logsf(y - 1), demand.logpmf(y))
    found = model.loglikeobs(np.array([log_mean, log_alpha]))
    # scipy's own digits run out in tails below e^-30
    seen = expected > -30
    assert seen.sum() >= 5
    assert found[seen] == pytest.approx(expected[seen], rel=1e-7, abs=1e-9)
    assert found[4] == 0.0


def mixed_model() -> CensoredNegativeBinomial:
    """Two effects, priors on all, every third day sold out."""
    rng = np.random.default_rng(5)
    X = np.column_stack([np.ones(60), rng.normal(size=60)])
    y = rng.negative_binomial(4, 4 / (4 + np.exp(1.5 + 0.4 * X[:, 1])))
    precision = np.diag(np.array([2.0, 0.5, 1.0]) ** -2.0)
    return CensoredNegativeBinomial(
        y, X, np.arange(60) % 3 == 0, np.array([1.0, 0.0, -2.0]), precision
    )


@pytest.mark.parametrize("params", [(1.5, 0.4, -1.4), (0.2, -0.6, -3.0), (2.5, 0.0, 0.5)])
def test_the_score_is_the_slope_of_the_log_likelihood(params: tuple[float, float, float]) -> None:
    model, at = mixed_model(), np.array(params)
    forward = approx_fprime(at, model.loglike, 1e-6)
    backward = approx_fprime(at, model.loglike, -1e-6)
    assert model.score(at) == pytest.approx((forward + backward) / 2, rel=1e-5, abs=1e-4)


@pytest.mark.parametrize("params", [(1.5, 0.4, -1.4), (0.2, -0.6, -3.0)])
def test_the_hessian_is_the_curvature_of_the_log_likelihood(
    params: tuple[float, float, float],
) -> None:
    """From values of the log-likelihood alone, so that a slip in the score cannot hide."""
    model, at, step = mixed_model(), np.array(params), 1e-3

    def value(i: int, j: int, a: int, b: int) -> float:
        moved = at.copy()
        moved[i] += a * step
        moved[j] += b * step
        return model.loglike(moved)

    curvature = np.empty((3, 3))
    for i in range(3):
        for j in range(3):
            corners = value(i, j, 1, 1) - value(i, j, 1, -1)
            corners += value(i, j, -1, -1) - value(i, j, -1, 1)
            curvature[i, j] = corners / (4 * step**2)
    assert model.hessian(at) == pytest.approx(curvature, rel=1e-3, abs=1e-2)


def test_the_maximum_is_flat_and_the_covariance_is_the_inverse_curvature() -> None:
    model = mixed_model()
    params, covariance = model.fitted()
    assert model.score(params) == pytest.approx(np.zeros(3), abs=1e-6)
    assert covariance @ -model.hessian(params) == pytest.approx(np.eye(3), abs=1e-8)


def test_a_history_that_sets_no_limit_is_not_answered_with_a_sharp_number() -> None:
    """Always sold out: nothing speaks against a boundless demand, and the covariance says so.

    A prior then bounds the answer, above the sales and no surer than the prior itself.
    """
    days = Days(5, (5,) * 12)
    _, covariance = days.model([1.0, -1.0], [np.inf, np.inf]).fitted()
    assert np.sqrt(covariance[0, 0]) > 50
    params, covariance = days.model([np.log(5.0), -2.0], [1.0, 0.5]).fitted()
    assert 8 < np.exp(params[0]) < 40
    assert 0.3 < np.sqrt(covariance[0, 0]) <= 1.0


def test_a_line_that_never_sold_has_no_maximum() -> None:
    """The mean would run to zero without end: said, not answered with a number."""
    with pytest.raises(ArithmeticError, match="no maximum"):
        Days(5, (0,) * 12).model([1.0, -1.0], [np.inf, np.inf]).fitted()
