"""Negative binomial regression in which a sold-out day's sales are a floor of the demand."""

from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.special import betainc, betaln, digamma, gammaln
from statsmodels.base.model import GenericLikelihoodModel

Floats = NDArray[np.float64]

TINIEST = 1e-300
LARGEST_LOG_MEAN = 12.0
"""e^12 is 160,000 units a day: far beyond any line, and safe to exponentiate."""


CLOSE_ENOUGH = 0.005
"""Log likelihood [nats] that steps from a nearby fit may leave: a tenth of a standard error."""

MOST_STEPS = 12


class CensoredNegativeBinomial(GenericLikelihoodModel):
    """Counts with mean exp(x'b) and variance mean + alpha mean^2, some of them floors.

    A plain day contributes log P(D = y), a sold-out day log P(D >= y), which is
    log I_q(y, 1/alpha) with q = mean / (mean + 1/alpha) (negative binomial tail as a
    regularised incomplete beta function; Abramowitz & Stegun 1964, eq. 26.5.26). Normal priors
    hold coefficients on which a short history says little.

    Parameters
    ----------
    endog : array of int, shape (n_days,)
        Units sold.
    exog : array or pandas.DataFrame of float, shape (n_days, n_effects)
        A frame gives the effects their names.
    floor : array of bool, shape (n_days,)
        Sold out: the demand was at least the sales.
    prior_mean, prior_sd : array of float, shape (n_effects + 1,)
        Normal prior of the coefficients and, last, of log(alpha); a standard deviation of
        infinity leaves maximum likelihood.
    """

    def __init__(
        self,
        endog: NDArray[np.integer],
        exog: Floats | pd.DataFrame,
        floor: NDArray[np.bool_],
        prior_mean: Floats,
        prior_sd: Floats,
    ) -> None:
        self.floor = np.asarray(floor, np.bool_)
        self.prior_mean = prior_mean
        self.prior_precision = prior_sd**-2.0
        super().__init__(np.asarray(endog, np.float64), exog, extra_params_names=["log_alpha"])

    def initialize(self) -> None:
        """Count every coefficient as free: the prior holds those that the days leave open."""
        super().initialize()
        n_days, n_effects = self.exog.shape
        self.df_model = float(n_effects - self.k_constant)
        self.df_resid = float(n_days - n_effects)

    def loglikeobs(self, params: Floats) -> Floats:
        """Log likelihood of each day, shape (n_days,), without the prior."""
        return self._days(params)[0]

    def loglike(self, params: Floats) -> float:
        """Log posterior up to a constant."""
        away = params - self.prior_mean
        return float(self._days(params)[0].sum() - 0.5 * np.sum(away**2 * self.prior_precision))

    def score(self, params: Floats) -> Floats:
        """Gradient of `loglike`, shape (n_effects + 1,)."""
        _, by_log_mean, by_log_alpha = self._days(params)
        slope = np.append(self.exog.T @ by_log_mean, by_log_alpha.sum())
        return slope - (params - self.prior_mean) * self.prior_precision

    def hessian(self, params: Floats) -> Floats:
        """Second derivatives of `loglike` by central differences of the score."""
        n = len(params)
        rows = np.empty((n, n))
        for i in range(n):
            step = np.zeros(n)
            step[i] = 1e-4 * max(1.0, abs(params[i]))
            rows[i] = (self.score(params + step) - self.score(params - step)) / (2 * step[i])
        return (rows + rows.T) / 2

    def fitted(self, near: tuple[Floats, Floats] | None = None) -> tuple[Floats, Floats]:
        """Most probable parameters and their covariance.

        Parameters
        ----------
        near : tuple of params and covariance, optional
            Of a fit to much the same days, from which a few steps may lead to the top.

        Returns
        -------
        params : array of float, shape (n_effects + 1,)
        covariance : array of float, shape (n_effects + 1, n_effects + 1)
            Inverse of the observed information (Laplace's approximation).

        Raises
        ------
        ArithmeticError
            When no maximum is found.
        """
        params = None if near is None else self._approached(*near)
        if params is None:
            params = self._polished(self._searched())
        information = -self.hessian(params)
        if not np.all(np.isfinite(information)) or np.linalg.eigvalsh(information)[0] <= 0:
            raise ArithmeticError("the likelihood has no maximum")
        return params, np.asarray(np.linalg.inv(information), np.float64)

    def _approached(self, params: Floats, covariance: Floats) -> Floats | None:
        """The top by Newton steps with a curvature from nearby; None where they do not get there.

        The gain that such a step promises is half of slope x covariance x slope.
        """
        for _ in range(MOST_STEPS):
            slope = self.score(params)
            step = covariance @ slope
            if 0 <= slope @ step < 2 * CLOSE_ENOUGH:
                return params
            params = params + step
        return None

    def _searched(self) -> Floats:
        far = self.prior_mean.copy()
        options: dict[str, Any] = {"disp": False, "skip_hessian": True, "warn_convergence": False}
        result = self.fit(far, method="bfgs", maxiter=300, gtol=1e-4, **options)
        return np.asarray(result.params, np.float64)

    def _polished(self, params: Floats) -> Floats:
        """Newton steps from a point near the top, for as long as they lead upwards."""
        for _ in range(5):
            hessian = self.hessian(params)
            if not np.all(np.isfinite(hessian)) or np.linalg.eigvalsh(hessian)[-1] >= 0:
                break
            step = params - np.linalg.solve(hessian, self.score(params))
            if not self.loglike(step) > self.loglike(params):
                break
            params = step
        return params

    def _days(self, params: Floats) -> tuple[Floats, Floats, Floats]:
        """Log likelihood by day, and its slopes by log mean and by log alpha."""
        log_alpha = float(np.clip(params[-1], -15.0, 5.0))
        log_mean = np.clip(self.exog @ params[:-1], -LARGEST_LOG_MEAN, LARGEST_LOG_MEAN)
        value, by_log_mean, by_log_alpha = _exact(self.endog, log_mean, log_alpha)
        at_least = self.floor
        if at_least.any():
            y, eta = self.endog[at_least], log_mean[at_least]
            step = 1e-4
            value[at_least] = _log_tail(y, eta, log_alpha)
            by_log_alpha[at_least] = (
                _log_tail(y, eta, log_alpha + step) - _log_tail(y, eta, log_alpha - step)
            ) / (2 * step)
            by_log_mean[at_least] = _tail_slope(y, eta, log_alpha, value[at_least])
        return value, by_log_mean, by_log_alpha


def log_chances(
    units: NDArray[np.integer], log_mean: Floats, log_alpha: Floats
) -> tuple[Floats, Floats]:
    """log P(D = units) and log P(D >= units), each of shape (n, n_days).

    Parameters
    ----------
    units : array of int, shape (n_days,)
    log_mean : array of float, shape (n, n_days)
    log_alpha : array of float, shape (n,)
    """
    y = np.asarray(units, np.float64)
    rows = [
        (_exact(y, eta, a)[0], _log_tail(y, eta, a))
        for eta, a in zip(log_mean, log_alpha, strict=True)
    ]
    exact, floor = zip(*rows, strict=True)
    return np.stack(exact), np.stack(floor)


def _exact(y: Floats, log_mean: Floats, log_alpha: float) -> tuple[Floats, Floats, Floats]:
    size = np.exp(-log_alpha)
    mean = np.exp(log_mean)
    log_both = np.log(size + mean)
    value = (
        gammaln(y + size)
        - gammaln(size)
        - gammaln(y + 1)
        + size * (-log_alpha - log_both)
        + y * (log_mean - log_both)
    )
    by_log_mean = y - (y + size) * mean / (size + mean)
    by_size = (
        digamma(y + size) - digamma(size) - log_alpha - log_both + 1 - (size + y) / (size + mean)
    )
    return value, by_log_mean, -size * by_size


def _log_tail(y: Floats, log_mean: Floats, log_alpha: float) -> Floats:
    """log P(D >= y); 0 where y is 0, since every demand is at least that."""
    size = np.exp(-log_alpha)
    q = 1 / (1 + size * np.exp(-log_mean))
    some = y >= 1
    tail = np.ones_like(y)
    tail[some] = betainc(y[some], size, q[some])
    return np.log(np.maximum(tail, TINIEST))


def _tail_slope(y: Floats, log_mean: Floats, log_alpha: float, log_tail: Floats) -> Floats:
    size = np.exp(-log_alpha)
    log_q = -np.log1p(size * np.exp(-log_mean))
    log_rest = -np.log1p(np.exp(log_mean) / size)
    slope = np.zeros_like(y)
    some = y >= 1
    slope[some] = np.exp(
        y[some] * log_q[some] + size * log_rest[some] - betaln(y[some], size) - log_tail[some]
    )
    return slope
