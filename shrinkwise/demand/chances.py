"""Chances of negative binomial counts: exactly so many, or at least so many."""

import numpy as np
from numpy.typing import NDArray
from scipy.special import betainc, betaln, digamma, gammaln

Floats = NDArray[np.float64]

TINIEST = 1e-300
FURTHEST = 20_000
"""Units above a floor at which draws are cut."""


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


def beyond(
    units: Floats, log_mean: Floats, log_alpha: Floats, rng: np.random.Generator
) -> NDArray[np.int64]:
    """Draws of how far counts lie above units that they reach: D - units given D >= units.

    Parameters
    ----------
    units : array of float, shape (n,)
        Whole.
    log_mean, log_alpha : array of float, shape (n,)
    rng : numpy.random.Generator

    Returns
    -------
    array of int, shape (n,)
        At most `FURTHEST`.
    """
    size = np.exp(-log_alpha)
    q = 1 / (1 + size * np.exp(-log_mean))
    step = q * (units + size) / (units + 1)
    hazard = np.exp(exactly(units, log_mean, log_alpha)[0] - at_least(units, log_mean, log_alpha))
    # far out both chances underflow; successive ones then shrink by `step`, and in the end by q
    chance = np.clip(np.maximum(hazard, 1 - np.maximum(step, q)), 0.0, 1.0)
    left = rng.random(len(units))
    more = np.zeros(len(units), np.int64)
    for further in range(FURTHEST):
        left = left - chance
        if not (left >= 0).any():
            break
        more += left >= 0
        chance = chance * q * (units + further + size) / (units + further + 1)
    return more


def exactly(
    y: Floats, log_mean: Floats, log_alpha: Floats | float
) -> tuple[Floats, Floats, Floats]:
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


def at_least(y: Floats, log_mean: Floats, log_alpha: Floats | float) -> Floats:
    """log P(D >= y); 0 where y is 0, since every demand is at least that."""
    size = np.exp(-log_alpha)
    q = 1 / (1 + size * np.exp(-log_mean))
    some = y >= 1
    tail = np.ones_like(y)
    tail[some] = betainc(y[some], np.broadcast_to(size, y.shape)[some], q[some])
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
