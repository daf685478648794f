"""Search: all bake-day sets, and for the promising ones targets and least need unit by unit."""

from collections.abc import Iterator
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from shrinkwise.engine.policy import NO_BAKE, largest_level
from shrinkwise.planning.futures import Futures
from shrinkwise.planning.outcome import demerits
from shrinkwise.planning.rule import Rule, Targets, policy_of
from shrinkwise.planning.settings import PlanSettings
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Labour

COVERAGE = (0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.78, 0.84, 0.89, 0.93, 0.96, 0.98, 0.995)
"""Quantiles of the demand until the next bake, tried as a first target on every bake day."""

NEEDS = (0.3, 0.6, 1.0, 1.5)
"""First least needs that are tried, as multiples of the mean demand of an open day."""

MOST_ROUNDS = 200
"""Of one improvement; it ends long before, when no move helps."""


def bake_day_sets(bake_weekdays: tuple[int, ...]) -> list[tuple[int, ...]]:
    """Every non-empty set of the weekdays on which a line may be baked: 127 of all seven."""
    return [
        days
        for size in range(1, len(bake_weekdays) + 1)
        for days in combinations(bake_weekdays, size)
    ]


def best_rules(
    line: Line,
    labour: Labour,
    futures: Futures,
    bake_weekdays: tuple[int, ...],
    present_days: tuple[int, ...],
    settings: PlanSettings,
) -> list[Rule]:
    """The finalists, best first on the futures searched: those of least loss that keep the line's
    in-stock floor, or come nearest to it.

    Every bake-day set is tried with targets at common quantiles of the demand that a bake must
    cover. The best sets, the store's present one and that of all days are then improved one
    weekday at a time, first in large steps, then unit by unit: as they are, and with a bake that
    waits until enough is needed. All on the same futures.

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
    list of Rule
    """
    sets = bake_day_sets(bake_weekdays)
    first = [rule for days in sets for rule in _covering(days, line, futures)]
    merit = demerits(line, labour, futures, policy_of(first, futures, line))
    by_set = merit.reshape(len(sets), len(COVERAGE))
    at = by_set.argmin(axis=1) + np.arange(len(sets)) * len(COVERAGE)
    ranked = [int(index) for index in np.argsort(by_set.min(axis=1), kind="stable")]
    picked = ranked[: settings.finalists]
    for days in (present_days, bake_weekdays):
        if days in sets and sets.index(days) not in picked:
            picked.append(sets.index(days))
    plain = [_improved(first[at[index]], line, labour, futures) for index in picked]
    order = sorted(range(len(plain)), key=lambda index: plain[index][1])
    # a bake that may wait makes up for days that are left out: few sets, and all days
    waiting = dict.fromkeys(
        (*order[: settings.waiting_sets], picked.index(sets.index(bake_weekdays)))
    )
    found = plain + [_waiting(plain[index][0], line, labour, futures) for index in waiting]
    return [rule for rule, _ in sorted(found, key=lambda one: one[1])]


def _covering(days: tuple[int, ...], line: Line, futures: Futures) -> Iterator[Rule]:
    """First targets of a bake-day set, a rule for each quantile of COVERAGE."""
    targets = np.full((len(COVERAGE), 7), NO_BAKE, np.int16)
    for position, day in enumerate(days):
        until_next = (days[(position + 1) % len(days)] - day - 1) % 7 + 1
        covered = min(until_next, line.shelf_life_days)
        most = largest_level(line.shelf_life_days, line.batch_step)
        targets[:, day] = np.minimum(_demand_quantiles(futures, day, covered), most)
    return (Rule(row) for row in targets)


def _demand_quantiles(futures: Futures, weekday: int, n_days: int) -> NDArray[np.float64]:
    """Quantiles of the demand over `n_days` from each `weekday` on, rounded up [units]."""
    demand = futures.streams.sum(axis=0, dtype=np.int64)
    total = np.concatenate([np.zeros((1, demand.shape[1]), np.int64), demand.cumsum(axis=0)])
    starts = np.flatnonzero(futures.days.weekday == weekday)
    starts = starts[starts + n_days < len(total)]
    return np.ceil(np.quantile(total[starts + n_days] - total[starts], COVERAGE))


def _waiting(rule: Rule, line: Line, labour: Labour, futures: Futures) -> tuple[Rule, float]:
    """The best rule found that begins with these targets and waits for a first need."""
    open_days = futures.means[futures.days.is_open]
    usual = float(open_days.mean()) if open_days.size else 0.0
    needs = sorted({max(2, round(share * usual)) for share in NEEDS})
    # who waits for a need has that much less on the shelf at worst: the target makes up for it
    starts = [
        Rule(np.where(rule.targets == NO_BAKE, NO_BAKE, rule.targets + lift).astype(np.int16), need)
        for need in needs
        for lift in (0, need // 2, need)
    ]
    starts = [start for start in starts if _fits(start.targets, line)]
    if not starts:
        return _improved(rule, line, labour, futures)
    merit = demerits(line, labour, futures, policy_of(starts, futures, line))
    return _improved(starts[int(merit.argmin())], line, labour, futures)


def _fits(targets: Targets, line: Line) -> bool:
    return int(targets.max()) <= largest_level(line.shelf_life_days, line.batch_step)


def _improved(rule: Rule, line: Line, labour: Labour, futures: Futures) -> tuple[Rule, float]:
    """Coordinate search from a rule: the rule found and its demerit.

    A rule that does not wait is not made to.
    """
    step = max(1, int(rule.targets.max()) // 8)
    best = float(demerits(line, labour, futures, policy_of([rule], futures, line))[0])
    for _ in range(MOST_ROUNDS):
        moves = _moves(rule, step, line)
        merit = demerits(line, labour, futures, policy_of(moves, futures, line))
        found = int(merit.argmin())
        if merit[found] < best - 1e-9:
            rule, best = moves[found], float(merit[found])
        elif step == 1:
            break
        else:
            step = max(1, step // 2)
    return rule, best


def _moves(rule: Rule, step: int, line: Line) -> list[Rule]:
    """Rules one step away: a weekday's target, all targets, the need, all targets with the need."""
    days = np.flatnonzero(rule.targets != NO_BAKE)
    most = largest_level(line.shelf_life_days, line.batch_step)

    def moved(on: NDArray[np.intp], by: int, need_by: int = 0) -> Rule:
        wide = rule.targets.astype(np.int32)
        wide[on] = np.clip(wide[on] + by, 0, most)
        return Rule(wide.astype(np.int16), max(1, min(rule.least_need + need_by, most)))

    moves = [moved(on, by) for on in (*days[:, None], days) for by in (step, -step)]
    if rule.least_need > 1:
        moves += [moved(days[:0], 0, by) for by in (step, -step)]
        moves += [moved(days, by, by) for by in (step, -step)]
    return moves
