"""Search: all bake-day sets, and for the promising ones rules of each kind, unit by unit."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from shrinkwise.planning import starts
from shrinkwise.planning.climb import ROUGH, Found, Search
from shrinkwise.planning.futures import Futures
from shrinkwise.planning.rule import Rule
from shrinkwise.planning.settings import PlanSettings
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Labour

APART = 4 / 3
"""Times the least need of the one that of another start is at least."""


def best_rules(
    line: Line,
    labour: Labour,
    futures: Futures,
    bake_weekdays: tuple[int, ...],
    present_days: tuple[int, ...],
    settings: PlanSettings,
) -> list[Rule]:
    """The finalists, the polished ones first and then the best on the futures searched: those of
    least loss that keep the line's in-stock floor, or come nearest to it.

    Every bake-day set is tried with top-up targets at common quantiles of the demand that a bake
    must cover, on a part of the futures. The best sets, the store's present one and that of all
    days are improved there one weekday at a time in rough steps; the better half of them, with
    the same two, unit by unit on all futures. From the best few the other kinds of rule begin:
    bakes that wait until enough is missing, bakes under a ceiling, counts by age, and set
    batches. Bakes that wait for any day until much is missing begin by themselves, and no bake
    at all is always among the finalists. The best rules of all, the best plain top-up
    and the best set batches are polished on more futures.

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
    first_weeks = futures.days.first_day + 7 * settings.screen_weeks
    screen = futures.first(settings.screen_paths).upto(first_weeks)
    few = Search(line, labour, screen, settings)
    full = replace(few, futures=futures.first(settings.search_paths))
    every = replace(few, futures=futures)
    first = _promising_sets(few, bake_weekdays, present_days)
    kept = {present_days, bake_weekdays}
    rough = few.improved(list(first.values()), [_rough_step(rule) for rule in first.values()])
    rough.sort(key=lambda found: found.demerit)
    half = rough[: settings.finalists] + [
        found for found in rough[settings.finalists :] if found.rule.bake_days in kept
    ]
    plain = sorted(full.improved([found.rule for found in half]), key=lambda one: one.demerit)
    every_day = [found for found in plain if found.rule.bake_days == bake_weekdays]
    leaders = list(dict.fromkeys([*plain[: settings.leaders], *every_day[:1]]))
    found = [*plain, *_other_kinds(full, leaders), *_on_any_day(few, full, bake_weekdays)]
    found.append(Found(never := starts.no_bake(), float(full.demerits([never])[0])))
    ranked = every.best_of([one.rule for one in found])
    uncounted = [rule for rule in ranked if rule.counts == "nothing" and rule.bake_days]
    best = dict.fromkeys([*ranked[: settings.leaders], plain[0].rule, *uncounted[:1]])
    polished = every.improved(list(best), polishing=True)
    return list(dict.fromkeys([*(one.rule for one in polished), *ranked]))


def _rough_step(rule: Rule) -> int:
    return max(1, int(rule.targets.max()) // ROUGH)


def _promising_sets(
    search: Search, bake_weekdays: tuple[int, ...], present_days: tuple[int, ...]
) -> dict[tuple[int, ...], Rule]:
    """First rules of the best sets, and of the present and the largest one, by bake days."""
    sets = starts.bake_day_sets(bake_weekdays)
    rules = starts.covering(sets, search.line, search.futures)
    # every second quantile tells which sets are worth a closer look
    some = search.demerits([rule for of_set in rules for rule in of_set[::2]])
    ranked = np.argsort(some.reshape(len(sets), -1).min(axis=1), kind="stable")
    picked = [sets[int(index)] for index in ranked[: 2 * search.settings.finalists]]
    picked += [days for days in (present_days, bake_weekdays) if days in sets]
    tried = {days: rules[sets.index(days)] for days in dict.fromkeys(picked)}
    return dict(zip(tried, search.best(list(tried.values())), strict=True))


def _other_kinds(search: Search, leaders: Sequence[Found]) -> list[Found]:
    """The other kinds of rule, each improved from the best of its first ones."""
    line, futures = search.line, search.futures
    plain, aged = [], []
    for rule in (leader.rule for leader in leaders):
        plain += [
            starts.waiting(rule, line, futures),
            starts.set_batches(rule.bake_days, line, futures),
            starts.with_ceiling(rule, line, futures),
        ]
        if (by_age := starts.by_age(rule, line, futures)) is not None:
            aged += [[by_age], starts.with_ceiling(by_age, line, futures)]
    # counts by age are slow to play, and so is all that is played with them
    found = []
    for kinds in (plain, aged):
        if rows := [first for first in kinds if first]:
            found += search.improved(search.best(rows))
    return found


def _on_any_day(few: Search, full: Search, bake_weekdays: tuple[int, ...]) -> list[Found]:
    """Bakes that wait for any day, from the best of many first rules."""
    first = starts.on_any_day(bake_weekdays, few.line, few.futures)
    if not first:
        return []
    order, leaders = few.best_of(first), few.settings.leaders
    rules = order[:leaders]
    # what comes next is much like these: others shall have their chance
    for rule in order:
        if all(_apart(rule, one) for one in rules) and len(rules) < 2 * leaders:
            rules.append(rule)
    found = few.improved(rules, [_rough_step(rule) for rule in rules])
    rough = [one.rule for one in sorted(found, key=lambda one: one.demerit)]
    # few futures may be kind to a rule, and many unkind to one that was only improved on few
    best = dict.fromkeys([*rough[:leaders], full.best_of(rough)[0]])
    return full.improved(list(best))


def _apart(one: Rule, other: Rule) -> bool:
    less, more = sorted((one.least_need, other.least_need))
    return more >= APART * less
