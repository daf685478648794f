"""Chances of negative binomial counts: exactly so many, or at least so many."""

import numpy as np
from numpy.typing import NDArray
from scipy.special import betainc, betaln, digamma, gammaln

Floats = NDArray[np.float64]

TINIEST = 1e-300
FURTHEST = 20_000
"""Units above a floor at which draws are cut."""


def log_chances(
    units: NDArray[np.integer], log_mean: Floats, log_alpha: Floats, until: Floats
) -> tuple[Floats, Floats]:
    """log P(D = units) and log P(D >= units), each of shape (n, n_days), and of the last of the
    units being wanted when it was.

    Parameters
    ----------
    units : array of int, shape (n_days,)
    log_mean : array of float, shape (n, n_days)
    log_alpha : array of float, shape (n,)
    until : array of float, shape (n_days, 2)
        Shares of a day's demand between which the last unit was wanted.
    """
    y = np.asarray(units, np.float64)
    before, by = until.T
    # given their number, units are wanted each at its own time
    last = np.log(np.maximum(np.where(y > 0, by**y - before**y, 1.0), TINIEST))
    rows = [
        (exactly(y, eta, a)[0] + last, ran_out(y, eta, a, until))
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


def after(
    units: Floats, log_mean: Floats, log_alpha: Floats, share: Floats, rng: np.random.Generator
) -> NDArray[np.int64]:
    """Draws of what is wanted in the rest of a day, so many units having been wanted by a share
    of it.

    The rate of the day is Gamma distributed round the mean, and then round what has come (the
    conjugate prior of a Poisson rate).

    Parameters
    ----------
    units, log_mean, log_alpha, share : array of float, shape (n,)
        `share` of a day's demand, 0 to 1.
    rng : numpy.random.Generator

    Returns
    -------
    array of int, shape (n,)
        At most `FURTHEST`.
    """
    size = np.exp(-log_alpha)
    rate = rng.gamma(size + units) / (size * np.exp(-log_mean) + share)
    return np.minimum(rng.poisson(rate * (1 - share)), FURTHEST)


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


def expected_from(y: Floats, log_mean: Floats, log_alpha: float) -> Floats:
    """E(D | D >= y), shape (n,): the mean, times the chance of y - 1 or more of a count with one
    more in its size, over the chance of y or more."""
    more = np.log1p(np.exp(log_alpha))
    head = at_least(y - 1, log_mean + more, log_alpha - more)
    return np.asarray(np.exp(log_mean + head - at_least(y, log_mean, log_alpha)), np.float64)


def expected_by(y: Floats, log_mean: Floats, log_alpha: float, share: Floats) -> Floats:
    """E(D | the y-th is wanted at this share of the day's demand), shape (n,)."""
    size, mean = np.exp(-log_alpha), np.exp(log_mean)
    return np.asarray(y + (1 - share) * mean * (size + y) / (size + share * mean), np.float64)


def ran_out(y: Floats, log_mean: Floats, log_alpha: Floats | float, until: Floats) -> Floats:
    """log P(the y-th unit is wanted between two shares of the day's demand), shape (n_days,).

    Given the day's rate, units are wanted one by one as the demand comes; what has come by a
    share of it is negative binomial with that share of the mean and the same alpha, and the
    y-th comes at that moment with the density P(so many have come) y / share. Between shares
    close to one another that is taken to be even.

    Parameters
    ----------
    y : array of float, shape (n_days,)
    log_mean : array of float, shape (n_days,)
    log_alpha : array of float, shape (n_days,), or float
    until : array of float, shape (n_days, 2)
        0 and 1 where nothing is known of the moment.
    """
    came, span = until.mean(axis=1), np.diff(until, axis=1)[:, 0]
    density = np.maximum(y, 1) / came
    timed = exactly(y, log_mean + np.log(came), log_alpha)[0] + np.log(density * span)
    return np.where((span < 1) & (y > 0), timed, at_least(y, log_mean, log_alpha))


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
