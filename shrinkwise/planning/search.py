"""Search: all bake-day sets, and for the promising ones rules of each kind, unit by unit."""

from collections.abc import Generator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from shrinkwise.planning import starts
from shrinkwise.planning.futures import Futures
from shrinkwise.planning.moves import SMALL, moves, shifts, together
from shrinkwise.planning.outcome import Floats, demerits
from shrinkwise.planning.rule import Rule, policy_of
from shrinkwise.planning.settings import PlanSettings
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Labour

COARSEST, ROUGH = 8, 16
"""Parts of its largest target: in steps from the one down to the other a rule is first improved;
a good one begins with the other."""

COARSE = 24
"""Targets up to which a unit is coarse enough for two weekdays to have to move at once [units]."""

APART = 4 / 3
"""Times the least need of the one that of another start is at least."""

LOT = 2**13
"""Rules times futures that are played at once: more would leave the processor's memory."""


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
        """See `Weighed`; shape (n_rules,)."""
        size = max(LOT // self.futures.n_paths, 1)
        lots = [rules[start : start + size] for start in range(0, len(rules), size)]
        policies = (policy_of(lot, self.futures, self.line) for lot in lots)
        return np.concatenate(
            [demerits(self.line, self.labour, self.futures, policy) for policy in policies]
        )

    def of_rows(self, rows: Sequence[Sequence[Rule]]) -> list[Floats]:
        """The demerits of each row's rules, all of them played at once."""
        merit = self.demerits([rule for row in rows for rule in row])
        return np.split(merit, np.cumsum([len(row) for row in rows])[:-1])

    def best(self, rows: Sequence[Sequence[Rule]]) -> list[Rule]:
        """The best rule of each row."""
        merits = self.of_rows(rows)
        return [row[int(merit.argmin())] for row, merit in zip(rows, merits, strict=True)]

    def best_of(self, rules: Sequence[Rule]) -> list[Rule]:
        """The rules, the best first."""
        return [rules[int(index)] for index in np.argsort(self.demerits(rules), kind="stable")]

    def improved(
        self,
        rules: Sequence[Rule],
        last_steps: Sequence[int] | None = None,
        polishing: bool = False,
    ) -> list[Found]:
        """Each rule after a coordinate search of its own (see `_climb`), to its last step or to a
        unit.

        The searches go on side by side, so that the moves of all of them are played at once.
        """
        steps = last_steps or [1] * len(rules)
        climbs = [
            self._climb(rule, step, polishing) for rule, step in zip(rules, steps, strict=True)
        ]
        found: dict[int, Found] = {}
        asked = {place: next(climb) for place, climb in enumerate(climbs)}
        while asked:
            merits = self.of_rows(list(asked.values()))
            on = {}
            for place, merit in zip(asked, merits, strict=True):
                try:
                    on[place] = climbs[place].send(merit)
                except StopIteration as end:
                    found[place] = end.value
            asked = on
        return [found[place] for place in range(len(rules))]

    def _climb(
        self, rule: Rule, last_step: int, polishing: bool
    ) -> Generator[list[Rule], Floats, Found]:
        """Coordinate search from a rule in steps that are halved down to the last; it gives the
        rules that it wants to know the demerits of, and is sent these.

        A rule that does not wait is not made to, nor is a ceiling put on one without. Polishing,
        the first steps are small, and small targets are moved on two weekdays at once at last.
        """
        step = max(last_step, int(rule.targets.max()) // (ROUGH if polishing else COARSEST))
        best = float((yield [rule])[0])
        pairs = False
        for _ in range(self.settings.most_rounds):
            tried = moves(rule, step, self.line) + (shifts(rule, self.line) if pairs else [])
            merit = yield tried
            found = int(merit.argmin())
            if merit[found] < best - SMALL:
                chosen, least = tried[found], float(merit[found])
                # what helps by itself on several weekdays mostly helps on all of them
                joint = together(rule, tried, merit, best)
                if joint is not None and (merit_of_all := float((yield [joint])[0])) < least:
                    chosen, least = joint, merit_of_all
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
    tried = {days: rules[sets.index(days)] for days in dict.fromkeys(picked)}
    return dict(zip(tried, search.best(list(tried.values())), strict=True))


def _other_kinds(search: _Search, leaders: Sequence[Found]) -> list[Found]:
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


def _on_any_day(few: _Search, full: _Search, bake_weekdays: tuple[int, ...]) -> list[Found]:
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
