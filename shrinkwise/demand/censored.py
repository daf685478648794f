"""Negative binomial regression in which a sold-out day's sales are a floor of the demand."""

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve

from shrinkwise.demand.chances import at_least, at_least_slope, exactly

Floats = NDArray[np.float64]

LARGEST_LOG_MEAN = 12.0
"""e^12 is 160,000 units a day: far beyond any line, and safe to exponentiate."""

CLOSE_ENOUGH = 1e-6
"""Log likelihood [nats] that a last step may still promise."""

MOST_STEPS = 200
NEAR_ENOUGH = 0.005
"""The same of steps from a nearby fit: a tenth of a standard error."""

MOST_NEAR_STEPS = 12
LONGEST_STEP = 2.0
"""Change of a day's log mean and of log(alpha): the quadratic says nothing of what lies beyond."""

_STEP = 1e-4
_FIRST_DAMPING, _LARGEST_DAMPING = 1e-3, 1e12
_SURELY_POSITIVE = 1e-12


class CensoredNegativeBinomial:
    """Counts with mean exp(x'b) and variance mean + alpha mean^2, some of them floors.

    A plain day contributes log P(D = y), a sold-out day log P(D >= y), which is
    log I_q(y, 1/alpha) with q = mean / (mean + 1/alpha) (negative binomial tail as a
    regularised incomplete beta function; Abramowitz & Stegun 1964, eq. 26.5.26). A normal prior
    holds coefficients on which a short history says little. Days may count for less than one:
    the old ones of a level that drifts (West & Harrison, *Bayesian Forecasting and Dynamic
    Models*, 2nd ed., Springer 1997, ch. 6: discounting).

    Parameters
    ----------
    sold : array of int, shape (n_days,)
        Units.
    effects : array of float, shape (n_days, n_effects)
    floor : array of bool, shape (n_days,)
        Sold out: the demand was at least the sales.
    prior_mean : array of float, shape (n_effects + 1,)
        Normal prior of the coefficients and, last, of log(alpha).
    prior_precision : array of float, shape (n_effects + 1, n_effects + 1)
        Inverse covariance; zeros leave maximum likelihood.
    weights : array of float, shape (n_days,), optional
        How much each day counts; 1 if left out.
    came : array of float, shape (n_days,), optional
        Share of each day's demand that the units are, such as that until it sold out; the whole
        if left out.
    """

    def __init__(
        self,
        sold: NDArray[np.integer],
        effects: Floats,
        floor: NDArray[np.bool_],
        prior_mean: Floats,
        prior_precision: Floats,
        weights: Floats | None = None,
        came: Floats | None = None,
    ) -> None:
        self.sold = np.asarray(sold, np.float64)
        self.effects = effects
        self.floor = np.asarray(floor, np.bool_)
        self.prior_mean = prior_mean
        self.prior_precision = prior_precision
        self.weights = np.ones(len(self.sold)) if weights is None else weights
        self.log_came = np.zeros(len(self.sold)) if came is None else np.log(came)

    def loglikeobs(self, params: Floats) -> Floats:
        """Log likelihood of each day, shape (n_days,), without the prior and the weights."""
        return self._days(*self._split(params))[0]

    def loglike(self, params: Floats) -> float:
        """Log posterior up to a constant."""
        away = params - self.prior_mean
        days = float(self.weights @ self.loglikeobs(params))
        return days - 0.5 * float(away @ self.prior_precision @ away)

    def slopes(self, params: Floats) -> tuple[Floats, Floats]:
        """Slopes of each day's log likelihood by log mean and by log(alpha), shape (n_days,)."""
        _, by_log_mean, by_log_alpha = self._days(*self._split(params))
        return by_log_mean, by_log_alpha

    def score(self, params: Floats) -> Floats:
        """Gradient of `loglike`, shape (n_effects + 1,)."""
        by_log_mean, by_log_alpha = self.slopes(params)
        slope = np.append(
            self.effects.T @ (self.weights * by_log_mean), self.weights @ by_log_alpha
        )
        return slope - self.prior_precision @ (params - self.prior_mean)

    def curvatures(self, params: Floats) -> tuple[Floats, Floats, Floats]:
        """Second derivatives of each day's log likelihood, without the prior and the weights.

        Returns
        -------
        by_log_mean, by_both, by_log_alpha : array of float, shape (n_days,)
            From differences of the slopes.
        """
        log_mean, log_alpha = self._split(params)
        _, more, _ = self._days(log_mean + _STEP, log_alpha)
        _, less, _ = self._days(log_mean - _STEP, log_alpha)
        _, mean_up, alpha_up = self._days(log_mean, log_alpha + _STEP)
        _, mean_down, alpha_down = self._days(log_mean, log_alpha - _STEP)
        differences = (more - less, mean_up - mean_down, alpha_up - alpha_down)
        by_log_mean, by_both, by_log_alpha = (one / (2 * _STEP) for one in differences)
        return by_log_mean, by_both, by_log_alpha

    def information(self, params: Floats) -> Floats:
        """What the days say: minus the second derivatives of their log likelihood.

        Returns
        -------
        array of float, shape (n_effects + 1, n_effects + 1)
        """
        by_log_mean, by_both, by_log_alpha = self.curvatures(params)
        n = len(params)
        curvature = np.empty((n, n))
        curvature[:-1, :-1] = (self.effects.T * (self.weights * by_log_mean)) @ self.effects
        curvature[-1, :-1] = curvature[:-1, -1] = self.effects.T @ (self.weights * by_both)
        curvature[-1, -1] = self.weights @ by_log_alpha
        return -curvature

    def hessian(self, params: Floats) -> Floats:
        """Second derivatives of `loglike`."""
        return -(self.information(params) + self.prior_precision)

    def fitted(
        self, near: tuple[Floats, Floats] | None = None, start: Floats | None = None
    ) -> tuple[Floats, Floats]:
        """Most probable parameters and their covariance.

        Parameters
        ----------
        near : tuple of params and covariance, optional
            Of a fit to much the same days, from which a few steps may lead to the top.
        start : array of float, shape (n_effects + 1,), optional
            Where to seek otherwise; the prior's mean if left out.

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
            params = self._highest(self.prior_mean if start is None else start)
        information = -self.hessian(params)
        if not np.all(np.isfinite(information)) or np.linalg.eigvalsh(information)[0] <= 0:
            raise ArithmeticError("the likelihood has no maximum")
        return params, np.asarray(np.linalg.inv(information), np.float64)

    def _approached(self, params: Floats, covariance: Floats) -> Floats | None:
        """The top by Newton steps with a curvature from nearby; None where they do not get there.

        The gain that such a step promises is half of slope x covariance x slope.
        """
        for _ in range(MOST_NEAR_STEPS):
            slope = self.score(params)
            step = covariance @ slope
            if 0 <= slope @ step < 2 * NEAR_ENOUGH:
                return params
            params = params + step
        return None

    def _highest(self, params: Floats) -> Floats:
        """The top by Newton's steps, damped where they do not lead upwards.

        Levenberg 1944 and Marquardt 1963 (doi 10.1137/0111030) for the damping.
        """
        damping, value = _FIRST_DAMPING, self.loglike(params)
        for _ in range(MOST_STEPS):
            slope, information = self.score(params), -self.hessian(params)
            moved = False
            while not moved and damping < _LARGEST_DAMPING:
                step = _damped_step(information, slope, damping)
                if step is not None:
                    far = max(np.abs(self.effects @ step[:-1]).max(), abs(step[-1]))
                    step = step * (LONGEST_STEP / max(far, LONGEST_STEP))
                    higher = self.loglike(params + step)
                    moved = higher > value
                damping = damping / 10 if moved else damping * 10
            if not moved or step is None:
                break
            promised = float(slope @ step)
            params, value = params + step, higher
            # a step that was held back promises little wherever it starts
            if promised < CLOSE_ENOUGH and damping <= _FIRST_DAMPING:
                break
        return params

    def _split(self, params: Floats) -> tuple[Floats, float]:
        return self.effects @ params[:-1], float(params[-1])

    def _days(self, log_mean: Floats, log_alpha: float) -> tuple[Floats, Floats, Floats]:
        """Log likelihood by day, and its slopes by log mean and by log alpha."""
        log_alpha = float(np.clip(log_alpha, -15.0, 5.0))
        log_mean = np.clip(log_mean + self.log_came, -LARGEST_LOG_MEAN, LARGEST_LOG_MEAN)
        value, by_log_mean, by_log_alpha = exactly(self.sold, log_mean, log_alpha)
        floor = self.floor
        if floor.any():
            y, eta = self.sold[floor], log_mean[floor]
            value[floor] = at_least(y, eta, log_alpha)
            by_log_alpha[floor] = (
                at_least(y, eta, log_alpha + _STEP) - at_least(y, eta, log_alpha - _STEP)
            ) / (2 * _STEP)
            by_log_mean[floor] = at_least_slope(y, eta, log_alpha, value[floor])
        return value, by_log_mean, by_log_alpha


def _damped_step(information: Floats, slope: Floats, damping: float) -> Floats | None:
    """Solve (information + damping x its diagonal) step = slope; None where it is not positive."""
    diagonal = np.maximum(np.abs(np.diag(information)), _SURELY_POSITIVE)
    try:
        factor = cho_factor(information + np.diag(damping * diagonal))
    except np.linalg.LinAlgError:
        return None
    return np.asarray(cho_solve(factor, slope), np.float64)
