"""First rules of each kind, from which a search begins."""

from dataclasses import replace
from functools import cache
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from shrinkwise.engine.policy import NO_BAKE, largest_level
from shrinkwise.engine.streams import OLDEST
from shrinkwise.planning.futures import Futures
from shrinkwise.planning.rule import Rule, Targets
from shrinkwise.profile.line import Line

Floats = NDArray[np.float64]

COVERAGE = (0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.78, 0.84, 0.89, 0.93, 0.96, 0.98, 0.995)
"""Quantiles of the demand until the next bake, tried as a first target on every bake day."""

NEEDS = (0.3, 0.6, 1.0, 1.5)
"""First least needs that are tried, as multiples of the mean demand of an open day."""

CEILINGS = (0.8, 0.95, 1.1, 1.25, 1.45, 1.7)
"""First ceilings that are tried, as multiples of the mean demand until the next bake."""

DEEP = (0.3, 0.5, 0.7, 0.84, 0.93, 0.98)
"""Quantiles of the demand of one day, two days and so on up to a shelf life, tried as targets of
bakes that wait for any day."""

DEEP_NEEDS = (0.25, 0.4, 0.55, 0.7, 0.85, 1.0)
"""First least needs of such bakes, as shares of the mean target."""

LIFTS = (1.0, 1.08, 1.2)
"""By how much targets are raised with a ceiling, which takes away from them."""

SHARES = (0.4, 0.6, 0.75, 0.85, 0.95, 1.0, 1.05, 1.15, 1.3)
"""First set batches that are tried, as multiples of the mean demand until the next bake."""


def bake_day_sets(bake_weekdays: tuple[int, ...]) -> list[tuple[int, ...]]:
    """Every non-empty set of the weekdays on which a line may be baked: 127 of all seven."""
    return [
        days
        for size in range(1, len(bake_weekdays) + 1)
        for days in combinations(bake_weekdays, size)
    ]


def covering(sets: list[tuple[int, ...]], line: Line, futures: Futures) -> list[list[Rule]]:
    """Top-ups on sets of bake days: for each a rule for each quantile of COVERAGE."""

    @cache
    def wanted(day: int, n_days: int) -> Floats:
        quantiles = np.quantile(demand_from(futures, day, n_days), COVERAGE)
        return np.minimum(np.ceil(quantiles), most_level(line))

    found = []
    for days in sets:
        targets = np.full((len(COVERAGE), 7), NO_BAKE, np.int16)
        for day in days:
            targets[:, day] = wanted(day, days_covered(days, day, line))
        found.append([Rule(row) for row in targets])
    return found


def no_bake() -> Rule:
    """The rule that leaves a line out."""
    return Rule(np.full(7, NO_BAKE, np.int16))


def on_any_day(bake_weekdays: tuple[int, ...], line: Line, futures: Futures) -> list[Rule]:
    """Top-ups on any day that wait until much is missing: where a bake costs a lot, one is made
    for several days at once, whenever they come."""
    days = list(bake_weekdays)
    found = []
    for n_days in range(1, line.shelf_life_days + 1):
        demand = [demand_from(futures, day, n_days) for day in days]
        if any(of_day.size == 0 for of_day in demand):
            break
        by_day = np.ceil([np.quantile(of_day, DEEP) for of_day in demand])
        for wanted in np.minimum(by_day, most_level(line)).T:
            mean = float(wanted.mean())
            for on_days in (wanted, np.full(len(days), round(mean))):
                targets = np.full(7, NO_BAKE, np.int16)
                targets[days] = on_days
                needs = sorted({max(1, round(share * mean)) for share in DEEP_NEEDS})
                found += [Rule(targets, least_need=need) for need in needs]
    return found


def waiting(rule: Rule, line: Line, futures: Futures) -> list[Rule]:
    """The rule with bakes that wait until enough is missing."""
    open_days = futures.means[futures.days.is_open]
    usual = float(open_days.mean()) if open_days.size else 0.0
    needs = sorted({max(2, round(share * usual)) for share in NEEDS})
    # who waits for a need has that much less on the shelf at worst: the target makes up for it
    most = most_level(line) - int(rule.targets.max())
    return [
        replace(rule, targets=_raised(rule.targets, lift), least_need=need)
        for need in needs
        for lift in (0, need // 2, need)
        if lift <= most
    ]


def with_ceiling(rule: Rule, line: Line, futures: Futures) -> list[Rule]:
    """The rule with a ceiling on each bake, and perhaps a higher target instead."""
    needs = [mean_need(rule.bake_days, day, line, futures) for day in rule.bake_days]
    usual = float(np.max(needs, initial=0.0))
    step = line.batch_step
    ceilings = {max(step, round(share * usual / step) * step) for share in CEILINGS}
    return [
        replace(rule, targets=_scaled(rule.targets, lift, line), ceiling=ceiling)
        for ceiling in sorted(ceilings)
        for lift in LIFTS
    ]


def by_age(rule: Rule, line: Line, futures: Futures) -> Rule | None:
    """The rule with a count by age; None where units cannot go out of date between bakes."""
    life, days = line.shelf_life_days, rule.bake_days
    sold = np.full((7, life), -1, np.int16)
    for day in days:
        nights = min((days[(days.index(day) + 1) % len(days)] - day - 1) % 7, life - 1)
        sold[day, :nights] = np.minimum(_oldest_sold(futures, day, nights), most_level(line))
    return None if (sold < 0).all() else replace(rule, counts="units by age", sold_by_night=sold)


def set_batches(days: tuple[int, ...], line: Line, futures: Futures) -> list[Rule]:
    """Set batches on a set of bake days, as multiples of the mean demand until the next bake."""
    needs = np.array([mean_need(days, day, line, futures) for day in days])
    found = []
    for share in SHARES:
        targets = np.full(7, NO_BAKE, np.int16)
        targets[list(days)] = np.clip(np.round(share * needs), 1, most_level(line))
        found.append(Rule(targets, counts="nothing"))
    return found


def most_level(line: Line) -> int:
    """The largest target that the engine can play [units]."""
    return largest_level(line.shelf_life_days, line.batch_step)


def days_covered(days: tuple[int, ...], day: int, line: Line) -> int:
    """Days from a bake day on until the next of the set, at most a shelf life [days]."""
    until_next = (days[(days.index(day) + 1) % len(days)] - day - 1) % 7 + 1
    return min(until_next, line.shelf_life_days)


def demand_from(futures: Futures, weekday: int, n_days: int) -> NDArray[np.int64]:
    """Demand over `n_days` from each `weekday` on, shape (n_starts, n_paths) [units]."""
    return _over(futures.wanted, futures, weekday, n_days)


def mean_need(days: tuple[int, ...], day: int, line: Line, futures: Futures) -> float:
    """Mean demand from a bake day on until the next of the set, at most a shelf life [units]."""
    return float(demand_from(futures, day, days_covered(days, day, line)).mean())


def _oldest_sold(futures: Futures, weekday: int, nights: int) -> Floats:
    """Units that oldest-first shoppers take by the close of each of the days from `weekday` on,
    what comes after the count of the evening before included; shape (nights,)."""
    oldest = futures.streams[OLDEST].astype(np.int64)
    mean = [float(_over(oldest, futures, weekday, 1 + night).mean()) for night in range(nights)]
    before = 0.0
    if futures.after_count is not None:
        late = futures.after_count[OLDEST].astype(np.int64)
        before = float(_over(late, futures, (weekday - 1) % 7, 1).mean())
    return np.round(np.array(mean) + before)


def _over(
    units: NDArray[np.int64], futures: Futures, weekday: int, n_days: int
) -> NDArray[np.int64]:
    total = np.concatenate([np.zeros((1, units.shape[1]), np.int64), units.cumsum(axis=0)])
    starts = np.flatnonzero(futures.days.weekday == weekday)
    starts = starts[starts + n_days < len(total)]
    return np.asarray(total[starts + n_days] - total[starts])


def _raised(targets: Targets, by: int) -> Targets:
    return np.where(targets == NO_BAKE, NO_BAKE, targets + by).astype(np.int16)


def _scaled(targets: Targets, by: float, line: Line) -> Targets:
    scaled = np.minimum(np.round(by * targets), most_level(line))
    return np.where(targets == NO_BAKE, NO_BAKE, scaled).astype(np.int16)
