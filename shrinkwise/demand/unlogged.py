"""The demand of a line whose bakes are not logged: the mean of many reconstructions of them."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from shrinkwise.demand.fitting import by_errors
from shrinkwise.demand.hours import LineHours
from shrinkwise.demand.line import LineDays, LineDemand, Reconstruction, fit_line
from shrinkwise.demand.pooling import LinePrior
from shrinkwise.demand.reconstruction import Beliefs, Reconstructions, reconstruct
from shrinkwise.demand.week_ahead import look_back
from shrinkwise.records.inferred_bakes import bake_weekdays
from shrinkwise.records.ledger import LineLedger

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

RECONSTRUCTIONS = 8
ROUNDS = 3
FIRST_LEVEL, FIRST_SPREAD, FIRST_CREDIT = 1.4, 0.25, 0.8
"""Where the first round starts: common practice, no source."""

LARGEST_LOG_MEAN = 12.0
CREDITS = np.linspace(0.0, 1.0, 11)
FEWEST_BAKES = 4
"""Bakes on a weekday below which its level is taken to be that of all days."""

SMALLEST_SPREAD = 0.03


def can_reconstruct(ledger: LineLedger) -> bool:
    """Whether the bakes are unknown, and the disposals of the line logged."""
    return not ledger.bakes_known and bool(ledger.disposed_last_day.any())


def fit_unlogged(
    ledger: LineLedger, effects: Floats, hours: LineHours, prior: LinePrior, seed: int
) -> LineDemand:
    """Draw reconstructions of the bakes and the demand in turn, and keep the last of each.

    Each reconstruction takes another oldest-first share for granted, from few to all shoppers,
    since without bakes the logs hardly tell. Its bakes are drawn given its demand, then its
    demand given its bakes (data augmentation; Tanner & Wong 1987, doi 10.2307/2289457). The
    reconstructions stand side by side in all that follows; the covariance of their mean is
    within + (1 + 1/n) between (Rubin, *Multiple Imputation for Nonresponse in Surveys*, Wiley
    1987, ch. 3).

    Parameters
    ----------
    ledger : LineLedger
        That `can_reconstruct`.
    effects : array of float, shape (n_days, n_effects)
    hours : LineHours
    prior : LinePrior
        What the other lines say of it.
    seed : int

    Raises
    ------
    ArithmeticError
        When no demand can be fitted.
    """
    rng = np.random.default_rng(seed)
    until = hours.until(ledger.is_open)
    days = LineDays.of(ledger, effects, until)
    first = fit_line(days, prior)
    baking = np.isin(np.arange(7), bake_weekdays(ledger.bake_seen, ledger.is_open, ledger.weekday))
    n = RECONSTRUCTIONS
    fits = [first] * n
    draws = np.repeat(first.params[None], n, axis=0)
    beliefs = Beliefs(
        means=means(draws, effects),
        dispersion=np.exp(draws[:, -1]),
        share=shares(n),
        level=np.where(baking, FIRST_LEVEL, 0.0)[None].repeat(n, axis=0),
        spread=np.full(n, FIRST_SPREAD),
        credit=np.full(n, FIRST_CREDIT),
    )
    ledgers, seen = [ledger] * n, [days] * n
    for _ in range(ROUNDS):
        drawn = reconstruct(ledger, until, beliefs, rng)
        ledgers = [_as_ledger(ledger, drawn, one) for one in range(n)]
        beliefs = _habits(ledgers, beliefs, baking)
        seen = [LineDays.of(told, effects, until) for told in ledgers]
        fits = [fit_line(of, prior, fit) for of, fit in zip(seen, fits, strict=True)]
        draws = np.concatenate([fit.draws(1, rng) for fit in fits])
        beliefs = replace(beliefs, means=means(draws, effects), dispersion=np.exp(draws[:, -1]))
    return side_by_side(ledgers, by_errors_of_one(fits, seen, prior))


def side_by_side(ledgers: list[LineLedger], fits: list[LineDemand]) -> LineDemand:
    """The demand of reconstructions that are each as likely as the others."""
    params = np.stack([fit.params for fit in fits])
    within = np.mean([fit.covariance for fit in fits], axis=0)
    between = np.cov(params, rowvar=False)
    return LineDemand(
        params=params.mean(axis=0),
        covariance=within + (1 + 1 / len(fits)) * between,
        reconstructions=tuple(
            Reconstruction(told, fit.params, fit.covariance)
            for told, fit in zip(ledgers, fits, strict=True)
        ),
    )


def by_errors_of_one(
    fits: list[LineDemand], days: list[LineDays], prior: LinePrior
) -> list[LineDemand]:
    """The fits with more or less dispersion, as the errors a week ahead of the middle one say."""
    one = len(fits) // 2
    told = by_errors(fits[one], days[one], look_back(days[one], prior, fits[one].params))
    more = told.params[-1] - fits[one].params[-1]
    return [
        replace(
            fit,
            params=np.append(fit.params[:-1], fit.params[-1] + more),
            covariance=_with_last(fit.covariance, told.covariance),
        )
        for fit in fits
    ]


def _with_last(covariance: Floats, other: Floats) -> Floats:
    """A covariance with the last row and column of another."""
    mixed = covariance.copy()
    mixed[-1], mixed[:, -1] = other[-1], other[:, -1]
    return mixed


def shares(n: int) -> Floats:
    """The oldest-first shares of `n` reconstructions: the middles of n equal parts."""
    return (np.arange(n) + 0.5) / n


def means(draws: Floats, effects: Floats) -> Floats:
    return np.exp(np.clip(draws[:, :-1] @ effects.T, -LARGEST_LOG_MEAN, LARGEST_LOG_MEAN))


def _as_ledger(ledger: LineLedger, drawn: Reconstructions, one: int) -> LineLedger:
    return replace(
        ledger,
        baked=drawn.baked[one],
        on_hand_open=drawn.on_hand[one, :-1],
        on_hand_close=drawn.on_hand[one, 1:],
        sold_out=drawn.sold_out[one],
        unexplained=np.zeros_like(ledger.unexplained),
    )


def _habits(ledgers: list[LineLedger], beliefs: Beliefs, baking: Bools) -> Beliefs:
    """The level, spread and credit of every reconstruction's bakes."""
    found = [
        _habit(ledger, means, level, baking)
        for ledger, means, level in zip(ledgers, beliefs.means, beliefs.level, strict=True)
    ]
    level, spread, credit = (np.array(values) for values in zip(*found, strict=True))
    return replace(beliefs, level=level, spread=spread, credit=credit)


def _habit(
    ledger: LineLedger, means: Floats, old: Floats, baking: Bools
) -> tuple[Floats, float, float]:
    """The most likely lognormal levels among the credits tried, by weekday."""
    bakes = ledger.is_open & (ledger.baked > 0) & baking[ledger.weekday]
    if not bakes.any():
        return old, FIRST_SPREAD, FIRST_CREDIT
    of_day, baked, on_hand = ledger.weekday[bakes], ledger.baked[bakes], ledger.on_hand_open[bakes]
    found: list[tuple[float, Floats, float, float]] = []
    for credit in CREDITS:
        level = np.log(baked + credit * on_hand)
        multiple = level - np.log(means[bakes])
        middle = np.full(7, multiple.mean())
        for day in range(7):
            if (of_day == day).sum() >= FEWEST_BAKES:
                middle[day] = multiple[of_day == day].mean()
        spread = max(float((multiple - middle[of_day]).std()), SMALLEST_SPREAD)
        # density of a batch: of the log level, over the level
        unlikely = float(len(level) * np.log(spread) + level.sum())
        found.append((unlikely, np.where(baking, np.exp(middle), 0.0), spread, float(credit)))
    return min(found, key=lambda one: one[0])[1:]
