"""Chances of negative binomial counts: exactly so many, or at least so many."""

import numpy as np
from numpy.typing import NDArray
from scipy.special import betainc, betaln, digamma, gammaln

Floats = NDArray[np.float64]

TINIEST = 1e-300


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
        (exactly(y, eta, a)[0], at_least(y, eta, a))
        for eta, a in zip(log_mean, log_alpha, strict=True)
    ]
    exact, floor = zip(*rows, strict=True)
    return np.stack(exact), np.stack(floor)


def exactly(y: Floats, log_mean: Floats, log_alpha: float) -> tuple[Floats, Floats, Floats]:
    """log P(D = y), and its slopes by log mean and by log alpha."""
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


def at_least(y: Floats, log_mean: Floats, log_alpha: float) -> Floats:
    """log P(D >= y); 0 where y is 0, since every demand is at least that."""
    size = np.exp(-log_alpha)
    q = 1 / (1 + size * np.exp(-log_mean))
    some = y >= 1
    tail = np.ones_like(y)
    tail[some] = betainc(y[some], size, q[some])
    return np.log(np.maximum(tail, TINIEST))


def at_least_slope(y: Floats, log_mean: Floats, log_alpha: float, log_tail: Floats) -> Floats:
    """Slope of `at_least` by log mean, where it is `log_tail`."""
    size = np.exp(-log_alpha)
    log_q = -np.log1p(size * np.exp(-log_mean))
    log_rest = -np.log1p(np.exp(log_mean) / size)
    slope = np.zeros_like(y)
    some = y >= 1
    slope[some] = np.exp(
        y[some] * log_q[some] + size * log_rest[some] - betaln(y[some], size) - log_tail[some]
    )
    return slope
