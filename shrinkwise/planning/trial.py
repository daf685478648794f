"""What a small trial of reductions would tell of a line."""

from dataclasses import dataclass
from math import ceil, sqrt

from scipy.special import ndtri

from shrinkwise.profile.line import Line
from shrinkwise.shelf.kind_fit import DOUBT, FAINT, FEWEST_DAYS
from shrinkwise.shelf.kind_posterior import DAYS_AS_ONE, UPLIFT

LONGEST_TRIAL = 26
"""Weeks beyond which nobody would call it a trial."""

TRIAL_UPLIFT = 0.3
"""Bargain shoppers per ordinary one that a trial should tell from none."""

TRIAL_POWER = 5 / 6
"""Share of the trials that should tell them, if there are so many."""

TRIAL_DAYS = (2, 4)
"""Days a week on which units are reduced in a trial, at least and at most: part of the week stays
as it is."""

TRIAL_WEEKS = 13
"""Weeks beyond which more days a week are taken, as far as they may be."""

SWITCH_GUESS = 0.1
"""Share of shoppers taken to switch to reduced units, for the size of a trial alone."""


@dataclass(frozen=True)
class Trial:
    """How long, and with how many units, to reduce a line on some days so that the logs can tell.

    Attributes
    ----------
    weeks : int
    days_week : int
        Days a week.
    units : int
        At the reduced price on the morning of each [units].
    """

    weeks: int
    days_week: int
    units: int


def markdown_trial(line: Line, mean_units: float, alpha: float, oldest: float) -> Trial:
    """A trial that would tell bargain shoppers of 0.3 for each ordinary one from none.

    On a day with units enough, sales have mean m (1 + u) and variance m (1 + u) + alpha m^2; n of
    them tell u with a standard error of sqrt(((1 + u) / m + alpha) / n). They are told from none
    by the rule of `shrinkwise.shelf.kind_fit`: but for its doubt more than faint, days counting
    for less than by themselves (`shrinkwise.shelf.kind_posterior`).

    Parameters
    ----------
    line : Line
    mean_units : float
        Demand of an open day [units per day].
    alpha : float
        Dispersion of the demand.
    oldest : float
        Oldest-first share.
    """
    mean = max(mean_units, 0.1)
    variance = (1 + TRIAL_UPLIFT) / mean + alpha
    errors = ndtri(1 - DOUBT) * sqrt(DAYS_AS_ONE) + ndtri(TRIAL_POWER)
    n_days = max(ceil((errors / (TRIAL_UPLIFT - FAINT[UPLIFT])) ** 2 * variance), FEWEST_DAYS)
    takers = mean * (min(oldest + SWITCH_GUESS, 1.0) + TRIAL_UPLIFT)
    units = ceil(takers + sqrt(takers + alpha * takers**2))
    step = line.batch_step
    fewest, most = TRIAL_DAYS
    days_week = min(max(ceil(n_days / TRIAL_WEEKS), fewest), most)
    return Trial(ceil(n_days / days_week), days_week, ceil(units / step) * step)
