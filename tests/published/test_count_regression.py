"""Count regressions of the literature through the model of demand that the package fits."""

import numpy as np
import pytest
from numpy.typing import NDArray
from statsmodels.discrete.discrete_model import NegativeBinomial

from shrinkwise.demand.censored import CensoredNegativeBinomial

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# Outcome 1 to 3 (rows) by treatment 1 to 3: A. J. Dobson, An Introduction to Generalized Linear
# Models, Chapman & Hall 1990, p. 93, as in the example of R's `glm`.
DOBSON = [[18, 20, 25], [17, 10, 13], [15, 20, 12]]

# Hills with so many corn borers by treatment: C. I. Bliss, R. A. Fisher, Fitting the negative
# binomial distribution to biological data, Biometrics 9(2), 1953. {borers: hills}
BORERS = [
    {0: 19, 1: 12, 2: 18, 3: 18, 4: 11, 5: 12, 6: 7, 7: 8, 8: 4, 9: 4, 10: 1, 12: 1, 13: 1, 15: 1,
     17: 1, 19: 1, 26: 1},
    {0: 24, 1: 16, 2: 16, 3: 18, 4: 15, 5: 9, 6: 6, 7: 5, 8: 3, 9: 4, 10: 3, 12: 1},
    {0: 43, 1: 35, 2: 17, 3: 11, 4: 5, 5: 4, 6: 1, 7: 2, 8: 2},
    {0: 47, 1: 23, 2: 27, 3: 9, 4: 7, 5: 3, 6: 1, 7: 1, 10: 1, 11: 1},
]  # fmt: skip

# Apple leaves with so many red mites: the same paper. {mites: leaves}
MITES = {0: 70, 1: 38, 2: 17, 3: 10, 4: 9, 5: 3, 6: 2, 7: 1}


def model_of(
    y: Ints, X: Floats, start: Floats, sd: Floats | None = None
) -> CensoredNegativeBinomial:
    """The package's model with no day sold out; without `sd` it is maximum likelihood."""
    free = np.full(len(start), np.inf)
    precision = np.diag((free if sd is None else sd) ** -2.0)
    return CensoredNegativeBinomial(y, X, np.zeros(len(y), bool), start, precision)


def spread(counts: dict[int, int]) -> Ints:
    """{value: how often} as one row per observation."""
    return np.repeat(list(counts), list(counts.values()))


def borers() -> tuple[Ints, Floats]:
    """Borers a hill, and one column per treatment."""
    parts = [spread(counts) for counts in BORERS]
    treatment = np.repeat(np.arange(4), [len(part) for part in parts])
    return np.concatenate(parts), np.eye(4)[treatment]


def test_poisson_regression_on_dobson() -> None:
    """R 4 prints 3.045, -0.4543, -0.2930 and two zeros, residual deviance 5.1291 on 4 df."""
    y = np.array(DOBSON).ravel()
    outcome, treatment = np.divmod(np.arange(9), 3)
    X = np.column_stack(
        [np.ones(9), outcome == 1, outcome == 2, treatment == 1, treatment == 2]
    ).astype(float)
    # alpha = e^-14 is the Poisson limit of the negative binomial, held there by its prior
    start = np.array([np.log(y.mean()), 0, 0, 0, 0, -14.0])
    sd = np.array([np.inf] * 5 + [0.001])
    model = model_of(y, X, start, sd)
    params, covariance = model.fitted()
    assert params[:5] == pytest.approx([3.045, -0.4543, -0.2930, 0, 0], abs=5e-4)
    assert params[1:5] == pytest.approx([-0.4543, -0.2930, 0, 0], abs=1e-4)
    # the standard errors that R prints beside them: from memory
    errors = np.sqrt(np.diag(covariance))[:5]
    assert errors == pytest.approx([0.1709, 0.2022, 0.1927, 0.2, 0.2], abs=1e-4)

    saturated = model_of(y, np.eye(9), np.append(np.log(y), -14.0))
    best_possible = saturated.loglikeobs(saturated.prior_mean).sum()
    deviance = 2 * (best_possible - model.loglikeobs(params).sum())
    assert deviance == pytest.approx(5.1291, abs=1e-4)


def test_negative_binomial_regression_on_the_corn_borers() -> None:
    """Means 4.0333, 3.1667, 1.4833, 1.5083; theta 1.4714, log-likelihood -974.226 (computed)."""
    y, X = borers()
    params, _ = model_of(y, X, np.append(np.full(4, np.log(y.mean())), -1.0)).fitted()
    assert np.exp(params[:4]) == pytest.approx([4.0333, 3.1667, 1.4833, 1.5083], abs=5e-5)
    assert np.exp(-params[4]) == pytest.approx(1.4714, abs=5e-5)
    loglike = model_of(y, X, params).loglikeobs(params).sum()
    assert loglike == pytest.approx(-974.226, abs=5e-4)


def test_one_negative_binomial_on_the_red_mites() -> None:
    """Bliss and Fisher: mean 1.14667, k 1.02459 by maximum likelihood."""
    y = spread(MITES)
    params, _ = model_of(y, np.ones((len(y), 1)), np.array([np.log(y.mean()), -1.0])).fitted()
    assert np.exp(params[0]) == pytest.approx(1.14667, abs=5e-6)
    assert np.exp(-params[1]) == pytest.approx(1.02459, abs=5e-6)


@pytest.mark.parametrize("data", ["borers", "mites"])
def test_statsmodels_own_negative_binomial_agrees(data: str) -> None:
    y, X = borers() if data == "borers" else (spread(MITES), np.ones((150, 1)))
    start = np.append(np.full(X.shape[1], np.log(y.mean())), -0.5)
    ours = model_of(y, X, start)
    params, covariance = ours.fitted()
    theirs = NegativeBinomial(y, X).fit(
        start_params=np.append(start[:-1], 0.6), method="bfgs", maxiter=500, gtol=1e-7, disp=False
    )
    assert params[:-1] == pytest.approx(theirs.params[:-1], abs=1e-5)
    assert np.exp(params[-1]) == pytest.approx(theirs.params[-1], rel=1e-5)
    assert ours.loglikeobs(params).sum() == pytest.approx(theirs.llf, abs=1e-7)
    assert np.sqrt(np.diag(covariance))[:-1] == pytest.approx(theirs.bse[:-1], rel=1e-3)


def test_a_prior_pulls_a_thin_history_and_an_infinite_one_does_not() -> None:
    """What makes the cases above maximum likelihood: the prior counts, and counts as one."""
    y = spread(MITES)
    X = np.ones((len(y), 1))
    far = np.array([3.0, -1.0])
    free, _ = model_of(y, X, far).fitted()
    held, _ = model_of(y, X, far, np.array([0.05, np.inf])).fitted()
    assert np.exp(free[0]) == pytest.approx(1.14667, abs=5e-6)
    assert free[0] + 0.3 < held[0] < 3.0
    # at the maximum the pull of the days and that of the prior, (x - mean) / sd^2, are equal
    pull = model_of(y, X, held).score(held)
    assert pull == pytest.approx([(held[0] - 3.0) / 0.05**2, 0.0], abs=1e-5)
