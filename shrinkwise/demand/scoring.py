"""How good predicted distributions are, once the days have come."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

QUANTILES = (0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95)
WIDE = (1, 5)
"""Which of them bound the 80% interval."""

WEEKDAYS_BACK = 8


def path_quantiles(units: NDArray[np.integer]) -> Floats:
    """`QUANTILES` of drawn units, shape (n_days, len(QUANTILES)) [units per day].

    Parameters
    ----------
    units : array of int, shape (n_days, n_paths)
    """
    least = np.quantile(units, QUANTILES, axis=1, method="inverted_cdf")
    return np.asarray(least.T, np.float64)


def pinball_losses(
    units: NDArray[np.number], quantiles: Floats, levels: Sequence[float] = QUANTILES
) -> Floats:
    """What each quantile lost on each day, shape (n_days, n_levels) [units].

    A quantile q at level tau that was to hold y loses tau (y - q) where y is above it and
    (1 - tau) (q - y) where it is below (Koenker & Bassett 1978, doi 10.2307/1913643).

    Parameters
    ----------
    units : array, shape (n_days,)
    quantiles : array of float, shape (n_days, n_levels)
    levels : sequence of float
        Of the quantiles.
    """
    over = np.asarray(units, np.float64)[:, None] - quantiles
    tau = np.array(levels)
    return np.maximum(tau * over, (tau - 1) * over)


def weighted_quantile_loss(
    units: NDArray[np.number], quantiles: Floats, there: Floats | None = None
) -> float:
    """Twice the mean of the quantiles' summed losses, over the units: 0 is perfect.

    With limits, the quantiles are held to them, and what is scored is the sale of what was
    there: the score is still best, on average, for the true distribution, which a score on the
    days that were not sold out is not (the quantiles' form of the threshold-weighted score of
    Gneiting & Ranjan 2011, doi 10.1198/jbes.2010.08110).

    Parameters
    ----------
    units : array, shape (n_days,)
    quantiles : array of float, shape (n_days, len(QUANTILES))
    there : array of float, shape (n_days,), optional
        Most that could be sold on each day, infinity where that is not known [units].

    Returns
    -------
    float
        NaN where there were no units.
    """
    total = float(np.sum(units))
    held = quantiles if there is None else np.minimum(quantiles, there[:, None])
    losses = float(pinball_losses(units, held).sum())
    return 2 * losses / (len(QUANTILES) * total) if total > 0 else float("nan")


def coverage(units: NDArray[np.number], quantiles: Floats) -> float:
    """Share of days inside the 80% interval, its ends included; NaN without days."""
    low, high = (quantiles[:, at] for at in WIDE)
    return float(np.mean((units >= low) & (units <= high))) if len(units) else float("nan")


def mean_pit(low: Floats, high: Floats, bins: int) -> Floats:
    """Share of the days in each part of the predicted distribution: the probability integral
    transform of counts, not drawn at random but spread out evenly over each count's own step.

    Czado, Gneiting & Held, *Biometrics* 65, 2009, doi 10.1111/j.1541-0420.2009.01191.x, eq. 2 and
    the histogram of section 2.1: differences of the mean of their F(u | x). Alike in all parts
    where the prediction is right; high at both ends where it is too narrow, in the middle where
    it is too wide.

    Parameters
    ----------
    low, high : array of float, shape (n_days,)
        Predicted chance of fewer units than came, and of at most so many.
    bins : int
        Parts of the same chance.

    Returns
    -------
    array of float, shape (bins,)
        Adds up to 1.
    """
    ends = np.arange(bins + 1) / bins
    step = np.maximum(high - low, np.finfo(np.float64).tiny)
    below = np.clip((ends[:, None] - low) / step, 0.0, 1.0).mean(axis=1)
    return np.asarray(np.diff(below))


def same_weekday_quantiles(
    units: NDArray[np.number], is_open: NDArray[np.bool_], days: int = 7
) -> Floats:
    """What the last eight open days of the same weekday show: a rule to be better than.

    Parameters
    ----------
    units : array, shape (n_days,)
        Units sold until the day before the first one asked for.
    is_open : array of bool, shape (n_days,)
    days : int
        How many days are asked for; at most 7.

    Returns
    -------
    array of float, shape (days, len(QUANTILES))
        NaN for a weekday that was never open.
    """
    found, levels = np.full((days, len(QUANTILES)), np.nan), np.array(QUANTILES)
    for ahead in range(days):
        past = np.arange(len(units) - 7 + ahead, -1, -7)
        seen = units[past[is_open[past]][:WEEKDAYS_BACK]]
        if len(seen):
            last = len(seen) - 1
            found[ahead] = np.interp(last * levels, np.arange(last + 1), np.sort(seen))
    return found
