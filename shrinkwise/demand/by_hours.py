"""The demand of a line of which nothing but its sales is logged, and their hours."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit, log_ndtr

from shrinkwise.demand.chances import log_chances
from shrinkwise.demand.hours import LineHours
from shrinkwise.demand.line import LineDays, LineDemand, fit_line
from shrinkwise.demand.pooling import LinePrior
from shrinkwise.demand.unlogged import (
    FIRST_LEVEL,
    FIRST_SPREAD,
    RECONSTRUCTIONS,
    SMALLEST_SPREAD,
    by_errors_of_one,
    can_reconstruct,
    fit_unlogged,
    means,
    side_by_side,
)
from shrinkwise.records.ledger import LineLedger

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

ROUNDS = 5
EM_STEPS, FEW_DAYS = 10, 10.0
"""Days of the first belief on the stock that count with those that are seen."""

Fit = Callable[[LineLedger, Floats, LineHours, LinePrior, int], LineDemand]


def unlogged_fit(ledger: LineLedger, hours: LineHours) -> Fit | None:
    """How to fit a line whose bakes are not logged, where more than its sales tell of sold-out
    days; None for any other line."""
    if can_reconstruct(ledger):
        return fit_unlogged
    return None if ledger.bakes_known or not hours.told else fit_by_hours


def fit_by_hours(
    ledger: LineLedger, effects: Floats, hours: LineHours, prior: LinePrior, seed: int
) -> LineDemand:
    """Draw which days were sold out and the demand in turn, and keep the last of each.

    A day on which nothing is sold from an early hour on was sold out, or nobody came any more:
    either has its chance under the demand at hand and the stock that such days show, lognormal
    round a multiple of the demand (data augmentation, as in `fit_unlogged`).

    Parameters
    ----------
    ledger : LineLedger
        Of a line of which neither bakes nor disposals are logged.
    effects : array of float, shape (n_days, n_effects)
    hours : LineHours
    prior : LinePrior
    seed : int

    Raises
    ------
    ArithmeticError
        When no demand can be fitted.
    """
    rng, n = np.random.default_rng(seed), RECONSTRUCTIONS
    some = ledger.is_open & (ledger.sold > 0)
    first = fit_line(LineDays.of(ledger, effects, hours.until(some)), prior)
    fits, courses = [first] * n, [ledger] * n
    stock = np.tile([np.log(FIRST_LEVEL), FIRST_SPREAD], (n, 1))
    for _ in range(ROUNDS):
        draws = np.concatenate([fit.draws(1, rng) for fit in fits])
        expected, seen = means(draws, effects), []
        for one in range(n):
            until = hours.until(some & ~courses[one].sold_out)
            logs = log_chances(ledger.sold, np.log(expected[[one]]), draws[[one], -1], until)
            multiple = np.log(np.maximum(ledger.sold, 1) / expected[one])
            away = (multiple - stock[one, 0]) / stock[one, 1]
            # all of the stock was sold, or there was more of it
            log_odds = logs[1][0] - logs[0][0] + _log_hazard(away)
            log_odds -= np.log(stock[one, 1] * np.maximum(ledger.sold, 1))
            timed = some & (np.diff(until, axis=1)[:, 0] < 1)
            out = timed & (rng.random(len(log_odds)) < expit(log_odds))
            stock[one] = _levels(multiple[timed], out[timed], stock[one])
            courses[one] = replace(ledger, sold_out=out)
            seen.append(LineDays.of(courses[one], effects, until))
        fits = [fit_line(of, prior, fit) for of, fit in zip(seen, fits, strict=True)]
    return side_by_side(courses, by_errors_of_one(fits, seen, prior))


def _log_hazard(away: Floats) -> Floats:
    """Log of the density of a standard normal variable over the chance of more."""
    return np.asarray(-0.5 * away**2 - 0.5 * np.log(2 * np.pi) - log_ndtr(-away), np.float64)


def _levels(multiple: Floats, sold_out: Bools, before: Floats) -> Floats:
    """Mean and spread of the log of the stock over the demand, of which the sales are all on
    sold-out days and a part on others (EM for a censored normal variable; Dempster, Laird & Rubin
    1977, sec. 4.2), some days of the first belief among them; shape (2,)."""
    middle, spread = before
    for _ in range(EM_STEPS):
        away = (multiple - middle) / spread
        beyond = np.exp(_log_hazard(away))
        mean = np.where(sold_out, multiple, middle + spread * beyond)
        square = np.where(
            sold_out, multiple**2, middle**2 + spread**2 + spread * (middle + multiple) * beyond
        )
        first = np.log(FIRST_LEVEL)
        total = len(multiple) + FEW_DAYS
        middle = (mean.sum() + FEW_DAYS * first) / total
        second = (square.sum() + FEW_DAYS * (first**2 + FIRST_SPREAD**2)) / total
        spread = max(np.sqrt(max(second - middle**2, 0.0)), SMALLEST_SPREAD)
    return np.array([middle, spread])
