"""What would have been expected of past weeks before they began, and how far that was off."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shrinkwise.demand.censored import CensoredNegativeBinomial
from shrinkwise.demand.chances import expected_by, expected_from
from shrinkwise.demand.effects import LEVEL_WEEKS, level_steps
from shrinkwise.demand.line import DISPERSION_PRIOR, LineDays, remembered
from shrinkwise.demand.pooling import LinePrior

Floats = NDArray[np.float64]

WEEKS = 52
"""Weeks that are looked back on."""

FEWEST_DAYS = 28
"""Usable days before a week below which nothing was to be expected of it, and usable days looked
back on below which they tell no dispersion."""

LEAST_DISPERSION = 0.002
_STEPS = len(LEVEL_WEEKS)
_HELD = 1e-6


@dataclass(frozen=True)
class WeekAhead:
    """What the days before each past week say of its days.

    Attributes
    ----------
    day : array of int, shape (n,)
        Index of the day among those of the line.
    log_mean, variance : array of float, shape (n,)
        Expected log of the mean, and its variance for want of knowledge.
    in_week : array of float, shape (n, 7)
        Its covariance with that of each day of the same week, from the first one on; 0 for days
        that are not usable.
    """

    day: NDArray[np.int64]
    log_mean: Floats
    variance: Floats
    in_week: Floats


def look_back(days: LineDays, prior: LinePrior, params: Floats) -> WeekAhead:
    """Expect each of the last weeks from the days before it.

    The log likelihood of every day is taken as the quadratic that it is near the whole history's
    fit, so that each week costs one set of linear equations and not a fit.

    Parameters
    ----------
    days : LineDays
    prior : LinePrior
    params : array of float, shape (n_effects + 1,)
        Of the whole history.
    """
    model = days.likelihood(prior)
    at = np.flatnonzero(days.usable)
    slope, curvature = model.slopes(params)[0], np.maximum(-model.curvatures(params)[0], 1e-9)
    working = days.effects[at] @ params[:-1] + slope / curvature
    precision = model.prior_precision[:-1, :-1]
    toward = precision @ model.prior_mean[:-1]
    found: list[tuple[NDArray[np.int64], Floats, Floats, Floats]] = []
    for weeks in range(WEEKS, 0, -1):
        end = len(days.sold) - 7 * weeks
        before = at < end
        if before.sum() < FEWEST_DAYS:
            continue
        effects = _seen_from(days.effects[at[before]], end - 1 - at[before])
        weights = curvature[before] * remembered(end - 1 - at[before])
        information = (effects.T * weights) @ effects + precision
        pull = effects.T @ (weights * working[before]) + toward
        week = at[(at >= end) & (at < end + 7)]
        coming = _seen_from(days.effects[week], end - 1 - week)
        solved = np.linalg.solve(information, np.column_stack([pull, coming.T]))
        in_week = np.zeros((len(week), 7))
        in_week[:, week - end] = coming @ solved[:, 1:]
        variance = in_week[np.arange(len(week)), week - end]
        found.append((week, coming @ solved[:, 0], variance, in_week))
    if not found:
        return WeekAhead(np.zeros(0, np.int64), np.zeros(0), np.zeros(0), np.zeros((0, 7)))
    return WeekAhead(*(np.concatenate(part) for part in zip(*found, strict=True)))


def dispersion(days: LineDays, ahead: WeekAhead) -> tuple[float, float] | None:
    """log(alpha) by the errors of a week ahead, and its standard deviation.

    The errors hold the doubt about the mean as well; since the paths draw that by themselves, it
    is taken out again: (1 + errors') = (1 + alpha) (1 + mean's).

    Parameters
    ----------
    days : LineDays
    ahead : WeekAhead

    Returns
    -------
    tuple of float, or None
        None where there are too few errors.
    """
    if len(ahead.day) < FEWEST_DAYS:
        return None
    # the expectation stands as it is: its coefficient is held at 1
    held = np.diag([_HELD**-2.0, DISPERSION_PRIOR[1] ** -2.0])
    model = CensoredNegativeBinomial(
        days.sold[ahead.day],
        ahead.log_mean[:, None],
        days.untimed[ahead.day],
        np.array([1.0, DISPERSION_PRIOR[0]]),
        held,
        came=days.came[ahead.day],
    )
    params, covariance = model.fitted()
    of_errors, of_mean = float(np.exp(params[1])), float(ahead.variance.mean())
    own = max((1 + of_errors) / (1 + of_mean) - 1, LEAST_DISPERSION)
    return float(np.log(own)), float(np.sqrt(covariance[1, 1]))


def shared_variance(
    days: Sequence[LineDays], ahead: Sequence[WeekAhead], log_alpha: Sequence[float]
) -> float:
    """Variance of the shock that all lines of a store share on a day, as a share of the mean.

    The covariance of two lines' errors on a day, over the product of their means; days count by
    how sharp they are. On a sold-out day the expected demand stands for the sales: left out, or
    taken at their word, such days would leave every line with days that are too poor, and all
    lines alike.

    Parameters
    ----------
    days : sequence of LineDays
        Ending on the same day.
    ahead : sequence of WeekAhead
    log_alpha : sequence of float
        Of each line.
    """
    error, sharp = np.zeros((2, len(days), 7 * WEEKS))
    for row, (line, week, alpha) in enumerate(zip(days, ahead, log_alpha, strict=True)):
        mean, back = np.exp(week.log_mean), week.day - len(line.sold)
        sold, came = line.sold[week.day].astype(np.float64), line.came[week.day]
        floor, untimed = line.floor[week.day], line.untimed[week.day]
        wanted = np.where(floor, expected_by(sold, week.log_mean, alpha, came), sold)
        wanted[untimed] = expected_from(sold[untimed], week.log_mean[untimed], alpha)
        error[row, back] = wanted / mean - 1
        sharp[row, back] = 1 / (1 / mean + np.exp(alpha))
    weighted = sharp * error
    among = weighted.sum(axis=0) ** 2 - (weighted**2).sum(axis=0)
    weight = sharp.sum(axis=0) ** 2 - (sharp**2).sum(axis=0)
    return max(float(among.sum() / weight.sum()), 0.0) if weight.sum() > 0 else 0.0


def _seen_from(effects: Floats, age: NDArray[np.int64]) -> Floats:
    """The effects with the level's steps as they stood when these days were so old."""
    moved = effects.copy()
    moved[:, -_STEPS:] = level_steps(age)
    return moved
