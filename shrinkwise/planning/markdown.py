"""When to reduce a line and to what price, or what a small trial would tell of it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil, sqrt

import numpy as np
import polars as pl

from shrinkwise.demand.factor import scaled
from shrinkwise.engine.streams import BARGAIN
from shrinkwise.planning.futures import Futures
from shrinkwise.planning.judging import Judging, chosen_rule
from shrinkwise.planning.outcome import Outcome, line_outcome, standard_error
from shrinkwise.planning.rule import policy_of
from shrinkwise.planning.settings import PlanSettings
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Store
from shrinkwise.records.tables import Records
from shrinkwise.shelf.kind_fit import FEWEST_DAYS
from shrinkwise.shelf.kinds import NOT_SEEN, Estimate

MOST_PRICES = 3
"""Price points of a line that are tried, those that were used most."""

TRIAL_UPLIFT = 0.3
"""Bargain shoppers per ordinary one that a trial should tell from none."""

TRIAL_ERRORS = 3.0
"""Standard errors by which it should: told from chance in five trials of six."""

TRIAL_DAYS = 2
"""Days a week on which units are reduced in a trial, so that most of the week stays as it is."""

SWITCH_GUESS = 0.1
"""Share of shoppers taken to switch to reduced units, for the size of a trial alone."""


@dataclass(frozen=True)
class MarkdownOption:
    """A day of reduction and a reduced price, under its own best plan.

    Attributes
    ----------
    reduce_on_day : int or None
        Day on shelf; None for never.
    reduced_price : float or None
        [money per unit]
    saving_week, saving_week_se : float
        Against the present reduction under its best plan [money per week].
    reduced_units_week : float
        Sold at the reduced price [units per week].
    """

    reduce_on_day: int | None
    reduced_price: float | None
    saving_week: float
    saving_week_se: float
    reduced_units_week: float


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


def price_points(records: Records, line: Line) -> list[float]:
    """Prices at which the store has reduced the line, the present one first [money per unit]."""
    if line.reduced_price is None:
        return []
    used = (
        records.markdowns.filter(
            pl.col("product") == line.name, pl.col("unit_price").is_between(0.01, line.price * 0.99)
        )
        .group_by(pl.col("unit_price").round(2))
        .agg(pl.col("units").sum())
        .sort("units", "unit_price", descending=True)["unit_price"]
        .to_list()
    )
    others = [price for price in used if abs(price - line.reduced_price) > 0.005]
    return [line.reduced_price, *others[: MOST_PRICES - 1]]


def markdown_options(
    line: Line,
    store: Store,
    judging: Judging,
    present: Outcome,
    bargain: Estimate,
    prices: Sequence[float],
    present_days: tuple[int, ...],
    settings: PlanSettings,
) -> tuple[MarkdownOption, ...]:
    """Days of reduction and reduced prices, the best first; empty where the logs cannot tell.

    Bargain shoppers are taken to grow with the depth of the reduction, as a share of the price;
    who takes the oldest units or switches to reduced ones does so at any depth. Where the logs
    show no bargain shoppers, all that can be better than the present reduction is none.

    Parameters
    ----------
    line : Line
    store : Store
    judging : Judging
        The futures.
    present : Outcome
        Of the present reduction under its best plan, on the judge's futures.
    bargain : Estimate
    prices : sequence of float
        Price points [money per unit].
    present_days : tuple of int
        The store's bake days.
    settings : PlanSettings
    """
    if line.reduce_on_day is None or not (bargain.plays or bargain.reason == NOT_SEEN):
        return ()
    tried: list[tuple[int | None, float | None]] = [(None, None)]
    if bargain.plays:
        days = range(2, line.shelf_life_days + 1)
        tried += [(day, price) for price in prices for day in days]
    now = line.reduce_on_day, line.reduced_price
    found = [_option(now, present, present)]
    for day, price in tried:
        if (day, price) == now:
            continue
        other = line.model_copy(update={"reduce_on_day": day, "reduced_price": price})
        futures = judging if price is None else _at_depth(judging, line, price, settings.seed)
        rule = chosen_rule(other, store, futures, present_days, settings).rule
        plan = policy_of([rule], futures.judge, other)
        outcome = line_outcome(other, store.labour, futures.judge, plan)
        found.append(_option((day, price), outcome, present))
    found.sort(key=lambda option: -option.saving_week)
    best, as_now = found[0], next(one for one in found if _pair(one) == now)
    # what is worth no more than the noise is no reason to change
    if best.saving_week <= 2 * best.saving_week_se:
        found.remove(as_now)
        found.insert(0, as_now)
    return tuple(found)


def markdown_trial(line: Line, mean_units: float, alpha: float, oldest: float) -> Trial:
    """A trial that would tell bargain shoppers of 0.3 for each ordinary one from none.

    On a day with units enough, sales have mean m (1 + u) and variance m (1 + u) + alpha m^2; n of
    them tell u with a standard error of sqrt(((1 + u) / m + alpha) / n).

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
    n_days = max(ceil((TRIAL_ERRORS / TRIAL_UPLIFT) ** 2 * variance), FEWEST_DAYS)
    takers = mean * (min(oldest + SWITCH_GUESS, 1.0) + TRIAL_UPLIFT)
    units = ceil(takers + sqrt(takers + alpha * takers**2))
    step = line.batch_step
    return Trial(ceil(n_days / TRIAL_DAYS), TRIAL_DAYS, ceil(units / step) * step)


def _pair(option: MarkdownOption) -> tuple[int | None, float | None]:
    return option.reduce_on_day, option.reduced_price


def _option(
    reduction: tuple[int | None, float | None], outcome: Outcome, present: Outcome
) -> MarkdownOption:
    saving = present.money.loss - outcome.money.loss
    reduced = float(outcome.quantities.sold_reduced.mean())
    return MarkdownOption(*reduction, float(saving.mean()), standard_error(saving), reduced)


def _at_depth(judging: Judging, line: Line, price: float, seed: int) -> Judging:
    """The futures with the bargain shoppers of another reduced price."""
    assert line.reduced_price is not None
    times = (line.price - price) / (line.price - line.reduced_price)
    if times == 1 or judging.judge.fussy_until_day is None:
        return judging
    return Judging(_scaled(judging.search, times, seed), _scaled(judging.judge, times, seed))


def _scaled(futures: Futures, times: float, seed: int) -> Futures:
    streams = futures.streams.copy()
    bargains = streams[BARGAIN].astype(np.int64)
    # on average as many more as there are; those of a day are Poisson round the path's own mean
    mean = np.broadcast_to(bargains.mean(axis=0), bargains.shape)
    rng = np.random.default_rng(seed)
    streams[BARGAIN] = scaled(bargains, mean, np.full(bargains.shape[1], times), rng)
    return replace(futures, streams=streams)
