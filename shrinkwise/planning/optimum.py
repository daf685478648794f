"""The least loss there is on a line, where that can be computed exactly, and its rule."""

from dataclasses import dataclass, replace
from math import ceil, comb

import numpy as np
from numpy.typing import NDArray

from shrinkwise.engine.exact import PerishableProblem, Rates, evaluate, solve
from shrinkwise.engine.perishable import MOST_STATES, Ints
from shrinkwise.engine.policy import NO_BAKE
from shrinkwise.engine.refusals import MOST_CELLS
from shrinkwise.planning.exact_line import WEEK, TypicalWeek, batches_of, line_problem
from shrinkwise.planning.futures import Futures
from shrinkwise.planning.rule import Rule
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Store

MOST_WORK = 1.5e8
"""Steps of one round of the week beyond which a line is left out: a second or two in all."""

PRECISION = 1e-4
"""Error of the least loss that is allowed, as a share of the rule's loss."""

SETTLED = 1e-6
"""Odds of the shelves still on the move when they are taken to stand."""

SURELY_USED = 0.5
"""Part of the demand at which an order must be used up, for its days in the freezer not to
matter."""

FULL = 1e-4
"""Chance of a day without room for more, below which the room does not matter: what a larger
bake would have saved there is a small part of a day's loss."""


@dataclass(frozen=True)
class Bounds:
    """Up to where the optimum is looked for.

    Attributes
    ----------
    batch : int
        Largest batch [units].
    room : int
        Most units to sell on one day [units].
    """

    batch: int
    room: int

    def hit(self, rates: Rates, life: int) -> bool:
        """Whether the shelf was full more than now and then, where it could have held more."""
        return rates.full > FULL and self.room < life * self.batch

    def met(self, batches: Ints, line: Line) -> bool:
        """Whether a larger batch than these may have been kept out."""
        return bool(batches.max() == self.batch != line.most_batch)

    def roomier(self, step: int) -> "Bounds":
        """With more room on the shelf."""
        return replace(self, room=self.room + max(self.room // 12, step))

    def larger(self, step: int) -> "Bounds":
        """With larger batches, and at least room for one."""
        batch = self.batch + max(self.batch // 12 // step, 1) * step
        return Bounds(batch, max(batch, self.room))


@dataclass(frozen=True, eq=False)
class Optimum:
    """The least loss there is in a line's typical week.

    Attributes
    ----------
    problem : PerishableProblem
        The week, with the bounds up to which the optimum was looked for.
    table : array of int16, shape (7, *units of age 1, 2, ... on the shelf)
        The bake of each weekday for every shelf [units].
    least : float
        Its expected loss per day [money per day].
    near : Rule
        That near which it was looked for.
    of_near : float
        The expected loss of that rule [money per day].
    """

    problem: PerishableProblem
    table: NDArray[np.int16]
    least: float
    near: Rule
    of_near: float

    @property
    def rule(self) -> Rule:
        """A bake for every shelf, by the units of each age."""
        by_day = self.table.reshape(WEEK, -1)
        on_empty = np.where(by_day.any(axis=1), by_day[:, 0], NO_BAKE).astype(np.int16)
        return Rule(on_empty, counts="units by age", batch_table=self.table)

    def gap_pct(self, rule: Rule, line: Line) -> float | None:
        """How far a rule's expected loss lies above the least [% of the least]; None where the
        rule bakes more, or fills the shelf more, than was looked at."""
        of_rule = self._loss(rule, line)
        # no rule is better than the optimum but within its error
        return None if of_rule is None else max(100 * (of_rule / self.least - 1), 0.0)

    def _loss(self, rule: Rule, line: Line) -> float | None:
        if rule is self.near:
            return self.of_near
        if rule.batch_table is self.table:
            return self.least
        problem = self.problem
        if line.batch_for(_largest(rule)) > problem.max_batch:
            return None
        rates = evaluate(problem, batches_of(rule, problem, line), SETTLED)
        bounds = Bounds(problem.max_batch, problem.most_on_shelf)
        return None if bounds.hit(rates, line.shelf_life_days) else rates.cost


def optimum(line: Line, store: Store, futures: Futures, rule: Rule) -> Optimum | None:
    """The least loss that is possible with nightly counts by age.

    It is exact for a week without end in which each day's demand and its shoppers are drawn
    from all futures thrown together: the rule by its own definition, and the optimum by value
    iteration over every shelf there can be.

    Parameters
    ----------
    line : Line
    store : Store
        Its labour, and the weekdays on which the line may be baked.
    futures : Futures
    rule : Rule
        A good one, near which the optimum is looked for.

    Returns
    -------
    Optimum or None
        None where it cannot be told: the line is reduced before its last day, costs more than
        it brings, is held to an in-stock floor, is counted before close, loses nothing, has
        fussy, switching or bargain shoppers, or too many shelves to go through.
    """
    if not _is_told(line, futures, rule):
        return None
    week = TypicalWeek.of(futures)
    bounds, step, life = _first_bounds(line, week, rule), line.batch_step, line.shelf_life_days
    while (problem := _affordable(line, store, week, bounds)) is not None:
        of_rule = evaluate(problem, batches_of(rule, problem, line), SETTLED)
        if of_rule.cost <= 0:
            return None
        if bounds.hit(of_rule, life):
            bounds = bounds.roomier(step)
            continue
        best = solve(problem, PRECISION * of_rule.cost)
        if bounds.met(best.batch, line):
            bounds = bounds.larger(step)
        elif bounds.hit(evaluate(problem, best.batch, FULL / 10), life):
            bounds = bounds.roomier(step)
        elif best.gain is None or best.gain <= 0:
            return None
        else:
            table = best.batch.astype(np.int16)
            return Optimum(problem, table, best.gain, rule, of_rule.cost)
    return None


def gap_to_optimum_pct(
    line: Line, store: Store, futures: Futures, rule: Rule, known: Optimum | None = None
) -> float | None:
    """How far a rule's expected loss lies above the least possible, the shelf counted by age.

    Parameters and exceptions are those of `optimum`; `known` is that of the same line and
    futures, where it was already found.

    Returns
    -------
    float or None
        [% of the least loss]
    """
    if not _is_told(line, futures, rule):
        return None
    told = None if known is None else known.gap_pct(rule, line)
    if told is None and (found := optimum(line, store, futures, rule)) is not None:
        told = found.gap_pct(rule, line)
    return told


def _is_told(line: Line, futures: Futures, rule: Rule) -> bool:
    """Whether the exact problem knows all of the line's terms and sees the shelf as the rule."""
    reduced_early = line.reduce_on_day is not None and line.reduce_on_day < line.shelf_life_days
    two_kinds = len(futures.streams) == 2
    sees_night = futures.after_count is None or rule.counts == "nothing"
    # only far above the pace of the smallest order is no dough ever thrown from the freezer
    week = 7 * futures.means[futures.days.first_day :].mean()
    outlives = line.least_pace > SURELY_USED * week
    pays = line.unit_margin >= 0 and line.in_stock_floor_pct is None
    return two_kinds and sees_night and not reduced_early and pays and not outlives


def _first_bounds(line: Line, week: TypicalWeek, rule: Rule) -> Bounds:
    """Bounds to begin with: more than the rule works towards, and than sells in a shelf life.

    A batch up to what sells in a shelf life may save other bakes, even where one of a middling
    size does not: only beyond it can the answer itself tell whether the bounds were met.
    """
    means = [float(pmf @ np.arange(len(pmf))) for pmf in week.demand]
    life = range(line.shelf_life_days)
    sold = max(sum(means[(day + later) % WEEK] for later in life) for day in range(WEEK))
    target = max(_largest(rule), ceil(sold), 1)
    batch = line.batch_for(target + target // 10 + line.batch_step)
    # set batches pile up on what is left
    spare = target // 2 if rule.counts == "nothing" else target // 10
    return Bounds(batch, max(batch, target + spare + 2 * line.batch_step))


def _largest(rule: Rule) -> int:
    """The largest target or batch of a rule [units]."""
    return int((rule.targets if rule.batch_table is None else rule.batch_table).max())


def _affordable(
    line: Line, store: Store, week: TypicalWeek, bounds: Bounds
) -> PerishableProblem | None:
    """The problem, if all its shelves can be gone through in a moment."""
    life, room = line.shelf_life_days, bounds.room
    if WEEK * (bounds.batch + 1) ** (life - 1) > MOST_STATES:
        return None
    longest = max(len(pmf) for pmf in week.demand)
    # rows by units taken oldest first, columns by older shelf and batch
    if 2 * min(longest, room + 1) * comb(room + life - 1, life - 1) > MOST_CELLS:
        return None
    problem = line_problem(line, store, week, bounds.batch, room)
    return problem if problem.work <= MOST_WORK else None
