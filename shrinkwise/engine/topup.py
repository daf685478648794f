"""Top-up rules for the exact problem: their batches for every shelf, the search for the best."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import cache, reduce
from itertools import product

import numpy as np

from shrinkwise.engine.iteration import Back
from shrinkwise.engine.perishable import Floats, Ints, PerishableProblem
from shrinkwise.engine.shelves import Shelves

Outdates = Callable[[int, int], Floats]
"""Day of the cycle, nights -> units expected to be disposed of without a bake, by shelf."""

COMMON_LEVELS = (0.5, 0.7, 0.8, 0.9, 0.95, 0.99)
"""Chances that the stock lasts until the next batch, at which the search begins."""

MOVES = (-1, 1, -2, 2, -4, 4)
"""Units by which the search moves a target."""

MOST_SETS_DAYS = 7
"""Longest cycle [days] of which every set of bake days is tried."""

MOST_SETS = 3
"""Sets of bake days that are improved."""


@dataclass(frozen=True)
class TopUp:
    """A top-up rule: bake what lifts the stock, and what is on order, to the target.

    Parameters
    ----------
    targets : tuple of int
        Top-up target by day of the cycle [units]; 0: no bake on that day.
    ceiling : int, optional
        Most units in one bake [units].
    age : bool
        Whether the target rises by the units on the shelf that are expected to go out of date
        (rounded to whole units) before the next batch can make up for them. With `lead_days` 1
        these go on the nights until the next bake, with 0 on all of those but the last: what
        goes then was there to sell on every day until the next batch.

    Notes
    -----
    The ceiling and the age term are, from memory, those of R. Haijema, S. Minner, Improved
    ordering of perishables: the value of stock-age information, International Journal of
    Production Economics 209, 2019; the age term alone goes back to R. A. C. M. Broekmeulen, K. H.
    van Donselaar, Computers & Operations Research 36(11), 2009. Theirs counts mean demand; here
    the expectation is exact.
    """

    targets: tuple[int, ...]
    ceiling: int | None = None
    age: bool = False


def expected_outdates(problem: PerishableProblem, back: Back) -> Outdates:
    """Units of a shelf that are expected to be disposed of if nothing else is baked.

    Parameters
    ----------
    problem : PerishableProblem
    back : callable
        One day back, see `Back`.

    Returns
    -------
    callable
        (day of the cycle, nights from that day's on) -> array of float, shape `shelf_shape`
        [units].
    """
    shelves = Shelves(problem)

    @cache
    def expected(day: int, nights: int) -> Floats:
        if nights == 0:
            return np.zeros(shelves.count)
        after = expected((day + 1) % problem.n_days, nights - 1)
        return back(day, after, problem.wasted[day], np.zeros(1), 1.0)[0]

    return lambda day, nights: shelves.outward(expected(day, nights)[None])[0]


def top_up_batches(problem: PerishableProblem, rule: TopUp, outdates: Outdates) -> Ints:
    """The batches of a rule for every shelf.

    Parameters
    ----------
    problem : PerishableProblem
    rule : TopUp
    outdates : callable
        As `expected_outdates` gives it.

    Returns
    -------
    array of int32, shape (n_days, *shelf_shape)
        Batches by day of the cycle and stock by age, youngest first [units]: rounded up to a
        multiple of the batch step and to the smallest batch, unless the ceiling or the largest
        batch is lower.

    Raises
    ------
    ValueError
        When there is not one target of at least 0 for each day, a day on which nothing may be
        baked has one, or the ceiling is negative or below the smallest batch.
    """
    _check(problem, rule)
    most = problem.max_batch if rule.ceiling is None else rule.ceiling
    shelves = Shelves(problem)
    batch = np.zeros((problem.n_days, *problem.shelf_shape), np.int32)
    for day, target in enumerate(rule.targets):
        if target == 0:
            continue
        need = target - shelves.stock
        if rule.age:
            nights = _days_to_next(rule.targets, day) - 1 + problem.lead_days
            nights = min(nights, problem.shelf_life)
            need = need + np.floor(outdates(day, nights) + 0.5).astype(np.int64)
        allowed = problem.batches[day]
        allowed = allowed[allowed <= most]
        # the smallest batch that is enough, else the largest
        wanted = allowed[np.minimum(np.searchsorted(allowed, need), len(allowed) - 1)]
        batch[day] = shelves.fitted(day, wanted)
    return batch


def best_rule(
    problem: PerishableProblem, cost: Callable[[TopUp], float], ceiling: bool, age: bool
) -> TopUp:
    """The rule of least cost that a search finds.

    It begins with targets at common chances of lasting until the next batch, for every set of
    bake days if a bake costs money, takes the best sets, and improves them number by number until
    no move helps. Rules with a ceiling or an age term begin at those without, so that none of
    them costs more than the plain one.

    Parameters
    ----------
    problem : PerishableProblem
    cost : callable
        Cost per day of a rule [money per day].
    ceiling, age : bool
        Whether the rule may have a ceiling and an age term.

    Returns
    -------
    TopUp
    """
    known = cache(cost)

    def improved(rules: list[TopUp], with_ceiling: bool) -> list[TopUp]:
        return [_improved(rule, problem, known, with_ceiling) for rule in rules]

    by_set = [min(rules, key=known) for rules in _starts(problem)]
    rules = improved(sorted(by_set, key=known)[:MOST_SETS], False)
    if age:
        rules += improved([replace(rule, age=True) for rule in rules], False)
    if ceiling:
        rules += improved(rules, True)
    if age and ceiling:
        rules += improved([replace(rule, age=True) for rule in rules], True)
    # of rules that cost the same, the plainest
    return min(rules, key=lambda rule: round(known(rule), 9))


def _starts(problem: PerishableProblem) -> Iterator[list[TopUp]]:
    """For each set of bake days, targets at common chances of lasting until the next batch."""
    n_days = problem.n_days
    may = [len(batches) > 1 for batches in problem.batches]
    all_sets = problem.bake_cost > 0 and n_days <= MOST_SETS_DAYS
    sets = product(*((True, False) if day else (False,) for day in may))
    for bakes in sets if all_sets else [tuple(may)]:
        yield [
            TopUp(
                tuple(
                    _lasting(problem, day, _days_to_next(bakes, day), level) if bake else 0
                    for day, bake in enumerate(bakes)
                )
            )
            for level in COMMON_LEVELS
        ]


def _lasting(problem: PerishableProblem, day: int, days: int, level: float) -> int:
    """Units that last so many days at a chance, at least 1."""
    days = min(days, problem.shelf_life) + problem.lead_days
    demand = [problem.demand[(day + later) % problem.n_days] for later in range(days)]
    below = np.cumsum(reduce(np.convolve, demand))
    return max(1, int(np.searchsorted(below, level)))


def _days_to_next(bakes: tuple[int, ...] | tuple[bool, ...], day: int) -> int:
    """Days from a bake day to the next one of the cycle."""
    n_days = len(bakes)
    return next(days for days in range(1, n_days + 1) if bakes[(day + days) % n_days])


def _improved(
    rule: TopUp, problem: PerishableProblem, cost: Callable[[TopUp], float], ceiling: bool
) -> TopUp:
    """A rule that no single move makes cheaper."""
    least, moving = cost(rule), True
    while moving:
        moving = False
        for move in _moves(rule, problem, ceiling):
            if cost(move) < least - 1e-9:
                least, rule, moving = cost(move), move, True
                break
    return rule


def _moves(rule: TopUp, problem: PerishableProblem, ceiling: bool) -> Iterator[TopUp]:
    """Rules one move away."""
    step = problem.batch_step
    may = [day for day, batches in enumerate(problem.batches) if len(batches) > 1]
    if ceiling and may:
        for most in problem.batches[may[0]][1:]:
            yield replace(rule, ceiling=int(most))
    for move in (*MOVES, -step, step):
        for day in may:
            target = rule.targets[day]
            moved = max(target + move, 0)
            yield replace(rule, targets=(*rule.targets[:day], moved, *rule.targets[day + 1 :]))
        yield replace(rule, targets=tuple(max(t + move, 0) if t else 0 for t in rule.targets))
    for day in may:
        yield replace(rule, targets=(*rule.targets[:day], 0, *rule.targets[day + 1 :]))


def _check(problem: PerishableProblem, rule: TopUp) -> None:
    if len(rule.targets) != problem.n_days or min(rule.targets) < 0:
        raise ValueError(
            f"a top-up rule needs {problem.n_days} targets of at least 0, one for each day of "
            f"the cycle, but had {rule.targets}"
        )
    may = [len(batches) > 1 for batches in problem.batches]
    if any(target and not bakes for target, bakes in zip(rule.targets, may, strict=True)):
        raise ValueError(
            f"a top-up rule must have target 0 on days without a bake, but had {rule.targets}"
        )
    if rule.ceiling is not None and rule.ceiling < problem.min_batch:
        raise ValueError(
            f"a ceiling must be at least {problem.min_batch} units, but was {rule.ceiling}"
        )
