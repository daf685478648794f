"""How far back a store has worked as it does now."""

import numpy as np
from numpy.typing import NDArray

FEWEST_WEEKS, MOST_WEEKS = 8, 52
STEPS = (16, 26, 39, MOST_WEEKS)
"""Weeks that are looked at one after another."""

CHANGED = 3.0
"""Standard errors between the recent weeks and those before from which the habit has changed.
Weeks next to each other err alike, so that this is less strict than it looks."""


def steady_weeks(multiples: NDArray[np.float64], age: NDArray[np.integer]) -> int:
    """Weeks up to now over which the levels of the bakes, as multiples of the need, were the same.

    The eight weeks that are always taken hold few bakes, and what bakers misjudge would be taken
    for their habit. Older weeks are added while their weekly means do not differ from those
    before by more than chance (Welch's statistic; B. L. Welch, Biometrika 34, 1947,
    doi 10.1093/biomet/34.1-2.28).

    Parameters
    ----------
    multiples : array of float, shape (n_bakes,)
        Levels of past bakes over the demand expected until the next one, above 0.
    age : array of int, shape (n_bakes,)
        Days from each to the last day of the records.

    Returns
    -------
    int
        8 to 52.
    """
    week = age // 7
    weeks = FEWEST_WEEKS
    for more in STEPS:
        recent = _weekly_means(multiples, week, 0, weeks)
        older = _weekly_means(multiples, week, weeks, more)
        if min(len(recent), len(older)) < 3:
            break
        error = np.sqrt(recent.var(ddof=1) / len(recent) + older.var(ddof=1) / len(older))
        if abs(recent.mean() - older.mean()) > CHANGED * error:
            break
        weeks = more
    return weeks


def _weekly_means(
    multiples: NDArray[np.float64], week: NDArray[np.integer], first: int, end: int
) -> NDArray[np.float64]:
    inside = (week >= first) & (week < end)
    of_week = week[inside] - first
    n = np.bincount(of_week, minlength=end - first)
    total = np.bincount(of_week, weights=np.log(multiples[inside]), minlength=end - first)
    return np.asarray(total[n > 0] / n[n > 0], np.float64)
