"""A rule with targets of their own on some dates, and the search for them."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shrinkwise.engine.policy import NO_BAKE, Policy
from shrinkwise.planning import starts
from shrinkwise.planning.futures import Futures
from shrinkwise.planning.outcome import Floats, Weighed, tie_margin, weighed
from shrinkwise.planning.rule import Rule, Targets, policy_of
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Labour

AS_STANDING = -2
"""Target of a date on which the standing rule holds."""

QUANTILES = (0.2, 0.35, 0.5, 0.65, 0.78, 0.88, 0.95)
"""Of the demand over some days from a date on, tried as its first target."""

MOST_COVERED = 5
"""Days of demand that a first target covers at most [days]."""

STEPS = (8, 3, 1)
"""By how much targets are moved, roughly at first [units]."""

SMALL = 1e-9
"""Gain that is no gain, against rounding [money per week]."""


@dataclass(frozen=True, eq=False)
class Week:
    """A line in a week as it will be: whom it meets there, and what may be baked when.

    Attributes
    ----------
    line : Line
    labour : Labour
    rule : Rule
        The standing one, which holds before and after, and on dates without a target of their
        own.
    futures : Futures
        From the morning after the records on; the week is counted, and some days after it, over
        which what is left of it is sold.
    opening_by_age : array of int16, shape (life, n_paths)
        On the shelf on the first morning [units].
    may_bake : array of bool, shape (7,)
        Dates on which the line may be baked.
    """

    line: Line
    labour: Labour
    rule: Rule
    futures: Futures
    opening_by_age: NDArray[np.int16]
    may_bake: NDArray[np.bool_]

    def policy(self, rows: Sequence[Targets]) -> Policy:
        """The rule with each row's own targets, shape (7,) by date [units].

        An own target is topped up to, or baked as a set batch where the rule counts nothing;
        no ceiling holds it down, and it does not look at ages.
        """
        one = policy_of([self.rule], self.futures, self.line)
        assert one.most_batch is not None
        assert one.by_table is not None
        n, (_, n_days, _) = len(rows), one.levels.shape
        levels = np.repeat(one.levels, n, axis=0)
        by_table = np.repeat(one.by_table, n, axis=0)
        most = np.broadcast_to(one.most_batch[:, None], (n, n_days)).copy()
        taken = None if one.taken is None else np.repeat(one.taken, n, axis=0)
        own = np.stack(rows)
        dates = slice(self.futures.days.first_day, self.futures.days.first_day + 7)
        is_own = own != AS_STANDING
        levels[:, dates, 0] = np.where(is_own, own, levels[:, dates, 0])
        by_table[:, dates] &= ~is_own
        most[:, dates] = np.where(is_own, self.line.most_units(None), most[:, dates])
        if taken is not None:
            taken[:, dates][is_own] = -1
        return replace(
            one,
            levels=levels,
            credit=np.repeat(one.credit, n),
            need_from=None if one.need_from is None else np.repeat(one.need_from, n),
            most_batch=most,
            taken=taken,
            by_table=by_table,
        )

    def weighed(self, rows: Sequence[Targets]) -> Weighed:
        """The week and what comes after it under each row's targets."""
        policy = self.policy(rows)
        return weighed(self.line, self.labour, self.futures, policy, self.opening_by_age)


def best_targets(week: Week) -> Targets:
    """Targets of their own on the dates where they save, found one date at a time.

    Returns
    -------
    array of int16, shape (7,)
        [units]; NO_BAKE for a date to be left out, AS_STANDING where the standing rule holds.
    """
    row = np.full(7, AS_STANDING, np.int16)
    best = float(week.weighed([row]).demerits[0])
    may_bake = [int(date) for date in np.flatnonzero(week.may_bake)]
    first = {date: _first_targets(week, date) for date in may_bake}
    steps = iter((0, *STEPS))
    step = next(steps)
    while True:
        moves = []
        for date, targets in first.items():
            near = () if row[date] < 0 else (row[date] + step, row[date] - step)
            moves += [_with(row, date, target) for target in (*near, *(() if step else targets))]
        moves = [one for one in moves if (one >= AS_STANDING).all() and (one != row).any()]
        merits = week.weighed(moves).demerits if moves else np.array([np.inf])
        found = int(merits.argmin())
        if merits[found] < best - SMALL:
            row, best = moves[found], float(merits[found])
        elif (next_step := next(steps, None)) is not None:
            step = next_step
        else:
            return row


def worth_it(week: Week, row: Targets) -> Targets:
    """The targets without those that save nothing worth the change (see `tie_margin`), the least
    worth first.

    Parameters
    ----------
    week : Week
        On other futures than those on which the targets were found.
    row : array of int16, shape (7,)
    """
    none = np.full(7, AS_STANDING, np.int16)
    while own := [int(date) for date in np.flatnonzero(row != AS_STANDING)]:
        # one by one, and all of them at once
        without = [*(_with(row, date, AS_STANDING) for date in own), none]
        result = week.weighed([row, *without])
        short = result.short_of_floor_pct
        difference = result.losses[1:] - result.losses[0]
        allowed = [tie_margin(one, result.losses[0]) for one in difference]
        excess: Floats = np.where(
            short[1:] <= short[0], difference.mean(axis=1) - np.array(allowed), np.inf
        )
        if excess.min() > 0:
            break
        row = without[int(excess.argmin())]
    return row


def _first_targets(week: Week, date: int) -> list[int]:
    """No bake, the standing rule, and quantiles of the demand from a date on."""
    futures, life = week.futures, week.line.shelf_life_days
    start = futures.days.first_day + date
    wanted = futures.wanted[start : start + min(life, MOST_COVERED)]
    quantiles = np.quantile(np.cumsum(wanted, axis=0), QUANTILES, axis=1)
    targets = np.unique(np.minimum(np.ceil(quantiles), starts.most_level(week.line)))
    return [NO_BAKE, AS_STANDING, *(int(target) for target in targets)]


def _with(row: Targets, date: int, target: int) -> Targets:
    changed = row.copy()
    changed[date] = target
    return changed
