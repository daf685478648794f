"""Search: all bake-day sets, and for the promising ones rules of each kind, unit by unit."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from shrinkwise.engine.policy import NO_BAKE
from shrinkwise.planning import starts
from shrinkwise.planning.futures import Futures
from shrinkwise.planning.outcome import Floats, demerits
from shrinkwise.planning.rule import Rule, policy_of
from shrinkwise.planning.settings import PlanSettings
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Labour

ROUGH = 16
"""Part of its largest target in whose steps a rule is first improved."""

POLISHING = 64
"""Part of its largest target in whose steps a good rule is improved at first."""

COARSE = 24
"""Targets up to which a unit is coarse enough for two weekdays to have to move at once [units]."""

SMALL = 1e-9
"""Gain that is no gain, against rounding [money per week]."""


@dataclass(frozen=True)
class Found:
    """A rule and its demerit on the futures searched (see `Weighed`)."""

    rule: Rule
    demerit: float


@dataclass(frozen=True)
class _Search:
    line: Line
    labour: Labour
    futures: Futures
    settings: PlanSettings

    def demerits(self, rules: Sequence[Rule]) -> Floats:
        policy = policy_of(rules, self.futures, self.line)
        return demerits(self.line, self.labour, self.futures, policy)

    def best(self, rules: Sequence[Rule]) -> Rule:
        return rules[int(self.demerits(rules).argmin())]

    def improved(self, rule: Rule, last_step: int = 1, polishing: bool = False) -> Found:
        """Coordinate search from a rule in steps that are halved down to the last.

        A rule that does not wait is not made to, nor is a ceiling put on one without. Polishing,
        the first steps are small, and small targets are moved on two weekdays at once at last.
        """
        step = max(last_step, int(rule.targets.max()) // (POLISHING if polishing else 8))
        best = float(self.demerits([rule])[0])
        pairs = False
        for _ in range(self.settings.most_rounds):
            moves = _moves(rule, step, self.line) + (_shifts(rule, self.line) if pairs else [])
            merit = self.demerits(moves)
            found = int(merit.argmin())
            if merit[found] < best - SMALL:
                chosen, least = moves[found], float(merit[found])
                # what helps by itself on several weekdays mostly helps on all of them
                together = _together(rule, moves, merit, best)
                if together is not None and (both := float(self.demerits([together])[0])) < least:
                    chosen, least = together, both
                rule, best = chosen, least
            elif step > last_step:
                step = max(last_step, step // 2)
            elif polishing and not pairs and int(rule.targets.max()) <= COARSE:
                pairs = True
            else:
                break
        return Found(rule, best)


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
    few = _Search(line, labour, screen, settings)
    full = replace(few, futures=futures.first(settings.search_paths))
    every = replace(few, futures=futures)
    first = _promising_sets(few, bake_weekdays, present_days)
    kept = {present_days, bake_weekdays}
    rough = [few.improved(rule, _rough_step(rule)) for rule in first.values()]
    rough.sort(key=lambda found: found.demerit)
    half = rough[: settings.finalists] + [
        found for found in rough[settings.finalists :] if found.rule.bake_days in kept
    ]
    plain = sorted((full.improved(found.rule) for found in half), key=lambda one: one.demerit)
    every_day = [found for found in plain if found.rule.bake_days == bake_weekdays]
    leaders = list(dict.fromkeys([*plain[: settings.leaders], *every_day[:1]]))
    found = [*plain, *_other_kinds(full, leaders), *_on_any_day(few, full, bake_weekdays)]
    found.append(Found(never := starts.no_bake(), float(full.demerits([never])[0])))
    found.sort(key=lambda one: one.demerit)
    uncounted = [one for one in found if one.rule.counts == "nothing" and one.rule.bake_days]
    best = dict.fromkeys([*found[: settings.leaders], *plain[:1], *uncounted[:1]])
    polished = [every.improved(one.rule, polishing=True).rule for one in best]
    return list(dict.fromkeys([*polished, *(one.rule for one in found)]))


def _rough_step(rule: Rule) -> int:
    return max(1, int(rule.targets.max()) // ROUGH)


def _promising_sets(
    search: _Search, bake_weekdays: tuple[int, ...], present_days: tuple[int, ...]
) -> dict[tuple[int, ...], Rule]:
    """First rules of the best sets, and of the present and the largest one, by bake days."""
    sets = starts.bake_day_sets(bake_weekdays)
    rules = starts.covering(sets, search.line, search.futures)
    # every second quantile tells which sets are worth a closer look
    some = search.demerits([rule for of_set in rules for rule in of_set[::2]])
    ranked = np.argsort(some.reshape(len(sets), -1).min(axis=1), kind="stable")
    picked = [sets[int(index)] for index in ranked[: 2 * search.settings.finalists]]
    picked += [days for days in (present_days, bake_weekdays) if days in sets]
    return {days: search.best(rules[sets.index(days)]) for days in dict.fromkeys(picked)}


def _other_kinds(search: _Search, leaders: Sequence[Found]) -> list[Found]:
    """The other kinds of rule, each improved from the best of its first ones."""
    line, futures = search.line, search.futures
    found = []
    for leader in leaders:
        if first := starts.waiting(leader.rule, line, futures):
            found.append(search.improved(search.best(first)))
        set_first = starts.set_batches(leader.rule.bake_days, line, futures)
        found.append(search.improved(search.best(set_first)))
        found += [search.improved(rule) for rule in _tighter(search, leader.rule)]
    return found


def _on_any_day(few: _Search, full: _Search, bake_weekdays: tuple[int, ...]) -> list[Found]:
    """Bakes that wait for any day, from the best of many first rules."""
    first = starts.on_any_day(bake_weekdays, few.line, few.futures)
    if not first:
        return []
    order = np.argsort(few.demerits(first), kind="stable")[: few.settings.leaders + 1]
    rough = [few.improved(first[int(index)], _rough_step(first[int(index)])) for index in order]
    best = sorted(rough, key=lambda one: one.demerit)[: few.settings.leaders]
    return [full.improved(one.rule) for one in best]


def _tighter(search: _Search, rule: Rule) -> list[Rule]:
    """The best first rules under a ceiling, with a count by age, and with both."""
    line, futures = search.line, search.futures
    aged = starts.by_age(rule, line, futures)
    kinds = [starts.with_ceiling(rule, line, futures)]
    if aged is not None:
        kinds += [[aged], starts.with_ceiling(aged, line, futures)]
    return [search.best(kind) for kind in kinds]


def _together(rule: Rule, moves: list[Rule], merit: Floats, best: float) -> Rule | None:
    """The rule with the better move of every weekday that has a move that helps; None where there
    is one such weekday or none. The first moves are up and down on one weekday after another."""
    targets, helped = rule.targets.copy(), 0
    for place, day in enumerate(rule.bake_days):
        at = 2 * place + int(merit[2 * place + 1] < merit[2 * place])
        if merit[at] < best - SMALL:
            targets[day] = moves[at].targets[day]
            helped += 1
    return replace(rule, targets=targets) if helped > 1 else None


def _shifts(rule: Rule, line: Line) -> list[Rule]:
    """Rules whose targets of two bake days are a unit away, each up or down."""
    days = np.flatnonzero(rule.targets != NO_BAKE)
    found = []
    for pair in combinations(days, 2):
        for by in ((1, 1), (1, -1), (-1, 1), (-1, -1)):
            targets = rule.targets.copy()
            targets[list(pair)] += np.array(by, np.int16)
            found.append(replace(rule, targets=targets))
    most = starts.most_level(line)
    return [one for one in found if one.targets[days].min() >= 0 and one.targets.max() <= most]


def _moves(rule: Rule, step: int, line: Line) -> list[Rule]:
    """Rules one step away: a weekday's target, all targets, the need or the ceiling, and all
    targets with either."""
    days, base, most = rule.bake_days, rule.targets.tolist(), starts.most_level(line)

    def moved(on: Iterable[int], by: int, need: int = 0, ceiling: int = 0) -> Rule:
        targets = rule.targets.copy()
        for day in on:
            targets[day] = min(max(base[day] + by, 0), most)
        return Rule(
            targets=targets,
            least_need=max(1, min(rule.least_need + need, most)),
            ceiling=None if rule.ceiling is None else max(line.batch_step, rule.ceiling + ceiling),
            counts=rule.counts,
            sold_by_night=rule.sold_by_night,
        )

    moves = [moved(on, by) for on in (*((day,) for day in days), days) for by in (step, -step)]
    if rule.least_need > 1:
        moves += [moved(on, by, need=by) for on in ((), days) for by in (step, -step)]
    if rule.ceiling is not None:
        whole = max(step // line.batch_step, 1) * line.batch_step
        moves += [moved(on, by, ceiling=by) for on in ((), days) for by in (whole, -whole)]
    return moves
