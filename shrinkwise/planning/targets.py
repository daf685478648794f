"""Search: all bake-day sets, and for the promising ones top-up targets unit by unit."""

from dataclasses import replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from shrinkwise.engine.policy import NO_BAKE, Policy, largest_level
from shrinkwise.planning.futures import Futures
from shrinkwise.planning.outcome import demerits
from shrinkwise.planning.settings import PlanSettings
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Labour

Targets = NDArray[np.int16]

COVERAGE = (0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.78, 0.84, 0.89, 0.93, 0.96, 0.98, 0.995)
"""Quantiles of the demand until the next bake, tried as a first target on every bake day."""

MOST_ROUNDS = 60


def top_up(targets: Targets, futures: Futures, line: Line) -> Policy:
    """Top-up targets by weekday, shape (n_plans, 7), as a policy on the futures' days."""
    levels = targets[:, futures.days.weekday][:, :, None]
    return limited(Policy(levels, np.ones(len(targets))), line)


def limited(policy: Policy, line: Line) -> Policy:
    """A policy in the line's steps and pans, within its smallest and its largest bake."""
    most = (
        None if line.most_batch is None else np.full(len(policy.levels), line.most_batch, np.int16)
    )
    return replace(
        policy,
        batch_step=line.batch_step,
        units_per_pan=line.units_per_pan,
        least_batch=line.least_batch,
        most_batch=most,
    )


def bake_day_sets(bake_weekdays: tuple[int, ...]) -> list[tuple[int, ...]]:
    """Every non-empty set of the weekdays on which a line may be baked: 127 of all seven."""
    return [
        days
        for size in range(1, len(bake_weekdays) + 1)
        for days in combinations(bake_weekdays, size)
    ]


def best_targets(
    line: Line,
    labour: Labour,
    futures: Futures,
    bake_weekdays: tuple[int, ...],
    present_days: tuple[int, ...],
    settings: PlanSettings,
) -> Targets:
    """Targets of the finalists, best first on the futures searched: those of least loss that keep
    the line's in-stock floor, or come nearest to it.

    Every bake-day set is tried with targets at common quantiles of the demand that a bake must
    cover; the best sets and the store's present one are then improved one weekday at a time,
    first in large steps, then unit by unit, all on the same futures.

    Parameters
    ----------
    line : Line
    labour : Labour
    futures : Futures
    bake_weekdays, present_days : tuple of int
        Weekdays on which the line may be baked, and those on which it is.
    settings : PlanSettings

    Returns
    -------
    array of int16, shape (n_finalists, 7)
        Target by weekday [units]; NO_BAKE on the others.
    """
    sets = bake_day_sets(bake_weekdays)
    first = np.concatenate([_covering(days, line, futures) for days in sets])
    losses = demerits(line, labour, futures, top_up(first, futures, line))
    by_set = losses.reshape(len(sets), len(COVERAGE))
    start = first.reshape(len(sets), len(COVERAGE), 7)[np.arange(len(sets)), by_set.argmin(axis=1)]
    ranked = list(np.argsort(by_set.min(axis=1), kind="stable")[: settings.finalists])
    if present_days in sets and sets.index(present_days) not in ranked:
        ranked.append(sets.index(present_days))
    improved = [_improved(start[index], line, labour, futures) for index in ranked]
    order = np.argsort([demerit for _, demerit in improved], kind="stable")
    return np.stack([improved[index][0] for index in order])


def _covering(days: tuple[int, ...], line: Line, futures: Futures) -> Targets:
    """First targets of a bake-day set, one row per quantile of COVERAGE."""
    targets = np.full((len(COVERAGE), 7), NO_BAKE, np.int16)
    for position, day in enumerate(days):
        until_next = (days[(position + 1) % len(days)] - day - 1) % 7 + 1
        covered = min(until_next, line.shelf_life_days)
        most = largest_level(line.shelf_life_days, line.batch_step)
        targets[:, day] = np.minimum(_demand_quantiles(futures, day, covered), most)
    return targets


def _demand_quantiles(futures: Futures, weekday: int, n_days: int) -> NDArray[np.float64]:
    """Quantiles of the demand over `n_days` from each `weekday` on, rounded up [units]."""
    demand = futures.streams.sum(axis=0, dtype=np.int64)
    total = np.concatenate([np.zeros((1, demand.shape[1]), np.int64), demand.cumsum(axis=0)])
    starts = np.flatnonzero(futures.days.weekday == weekday)
    starts = starts[starts + n_days < len(total)]
    return np.ceil(np.quantile(total[starts + n_days] - total[starts], COVERAGE))


def _improved(
    targets: Targets, line: Line, labour: Labour, futures: Futures
) -> tuple[Targets, float]:
    """Coordinate search from `targets`: the targets found and their demerit."""
    days = np.flatnonzero(targets != NO_BAKE)
    most = largest_level(line.shelf_life_days, line.batch_step)
    step = max(1, int(targets[days].max()) // 8)
    best = float(demerits(line, labour, futures, top_up(targets[None], futures, line))[0])
    for _ in range(MOST_ROUNDS):
        wide = np.repeat(targets[None].astype(np.int32), 2 * len(days) + 2, axis=0)
        for position, day in enumerate(days):
            wide[2 * position, day] += step
            wide[2 * position + 1, day] -= step
        wide[-2, days] += step
        wide[-1, days] -= step
        wide[:, days] = np.clip(wide[:, days], 0, most)
        moves = wide.astype(np.int16)
        losses = demerits(line, labour, futures, top_up(moves, futures, line))
        found = int(losses.argmin())
        if losses[found] < best - 1e-9:
            targets, best = moves[found], float(losses[found])
        elif step == 1:
            break
        else:
            step = max(1, step // 2)
    return targets, best
