"""Cumulative incidence: what share of the units has left by each way, with some still there."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

RESAMPLES = 1000


@dataclass(frozen=True)
class Incidence:
    """How units leave, by time.

    Attributes
    ----------
    by_way : array of float, shape (..., n_ways, n_times)
        Share that has left by each way, up to and including each time.
    still_there : array of float, shape (..., n_times)
        Share that has not; with `by_way` it adds up to 1.
    """

    by_way: Floats
    still_there: Floats


@dataclass(frozen=True)
class Interval:
    """Shares by way and time, each of shape (n_ways, n_times), between `low` and `high`."""

    share: Floats
    low: Floats
    high: Floats


def cumulative_incidence(left: ArrayLike, at_risk: ArrayLike) -> Incidence:
    """Aalen-Johansen estimate for units that leave by one of several ways.

    The share leaving by a way at a time is the share still there before it, times the units that
    left so over the units that could have (O. O. Aalen, S. Johansen, Scandinavian Journal of
    Statistics 5(3), 1978). With one way it is one minus the Kaplan-Meier estimate; the sum of one
    minus Kaplan-Meier over several ways is too large. After the last time with units at risk the
    shares stay as they were.

    Parameters
    ----------
    left : array, shape (..., n_ways, n_times)
        Units that left by each way at each time [units].
    at_risk : array, shape (..., n_times)
        Units there just before each time and followed through it [units].

    Raises
    ------
    ValueError
        When more units left than were there, or a number is negative.
    """
    gone, there = np.asarray(left, np.float64), np.asarray(at_risk, np.float64)
    total = gone.sum(axis=-2)
    if np.any(gone < 0) or np.any(total > there * (1 + 1e-12)):
        raise ValueError("left must be 0 or more and add up to no more than at_risk")
    safe = np.where(there > 0, there, 1.0)
    still_there = np.cumprod(1 - total / safe, axis=-1)
    before = np.concatenate([np.ones_like(there[..., :1]), still_there[..., :-1]], axis=-1)
    by_way = np.cumsum(before[..., None, :] * gone / safe[..., None, :], axis=-1)
    return Incidence(by_way, still_there)


def units_at_risk(left: ArrayLike, lost_sight_of: ArrayLike) -> Floats:
    """Units at risk at each time, from those that leave and those that are followed no longer.

    Parameters
    ----------
    left : array, shape (..., n_ways, n_times)
    lost_sight_of : array, shape (..., n_times)
        Units last seen at each time, after what left at it: still at risk there (censored).

    Returns
    -------
    array of float, shape (..., n_times)
    """
    ends = np.asarray(left, np.float64).sum(axis=-2) + np.asarray(lost_sight_of, np.float64)
    return np.asarray(np.cumsum(ends[..., ::-1], axis=-1)[..., ::-1], np.float64)


def resampled(
    left: Floats,
    lost_sight_of: Floats,
    groups: NDArray[np.integer],
    seed: int,
    level: float = 0.9,
) -> Interval:
    """Cumulative incidence of all batches, with an interval from resampling groups of them.

    Units of one batch meet the same shoppers, and so do batches of one week: to resample single
    units would make the interval far too narrow. Groups are drawn with replacement, as many as
    there are (B. Efron, The Annals of Statistics 7(1), 1979, doi 10.1214/aos/1176344552), and
    each resample takes the next of several accounts of what happened, so that the doubt about
    these is in the interval too.

    Parameters
    ----------
    left : array of float, shape (n_accounts, n_ways, n_batches, n_times)
        Units that left, under each account of what cannot be seen [units].
    lost_sight_of : array of float, shape (n_accounts, n_batches, n_times)
        Units followed no longer after each time [units].
    groups : array of int, shape (n_batches,)
        Batches with the same number are drawn together.
    seed : int
    level : float
        Probability between `low` and `high`.

    Returns
    -------
    Interval
        The share is the mean over the accounts.
    """
    _, group = np.unique(groups, return_inverse=True)
    n_groups = int(group.max()) + 1
    of_groups = np.zeros((n_groups, *left.shape[:2], left.shape[3]))
    lost_of_groups = np.zeros((n_groups, len(left), left.shape[3]))
    np.add.at(of_groups, group, left.transpose(2, 0, 1, 3))
    np.add.at(lost_of_groups, group, lost_sight_of.swapaxes(0, 1))
    n_accounts = len(left)
    rng = np.random.default_rng(seed)
    drawn = rng.multinomial(n_groups, np.full(n_groups, 1 / n_groups), RESAMPLES).astype(float)
    units, lost = np.empty((RESAMPLES, *left[0, :, 0].shape)), np.empty((RESAMPLES, left.shape[-1]))
    for account in range(n_accounts):
        mine = drawn[account::n_accounts]
        units[account::n_accounts] = np.tensordot(mine, of_groups[:, account], axes=1)
        lost[account::n_accounts] = np.tensordot(mine, lost_of_groups[:, account], axes=1)
    curves = cumulative_incidence(units, units_at_risk(units, lost)).by_way
    all_left, all_lost = of_groups.sum(axis=0), lost_of_groups.sum(axis=0)
    share = cumulative_incidence(all_left, units_at_risk(all_left, all_lost)).by_way.mean(axis=0)
    low, high = np.quantile(curves, ((1 - level) / 2, (1 + level) / 2), axis=0)
    return Interval(share, low, high)
