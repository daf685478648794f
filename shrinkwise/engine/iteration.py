"""Round and round the cycle until the answer stands: values with their bounds, shelves' odds."""

from collections.abc import Callable

import numpy as np

from shrinkwise.engine.answers import ExactPlan, Rates
from shrinkwise.engine.perishable import Floats, Ints, PerishableProblem
from shrinkwise.engine.shelves import Shelves

MOST_CYCLES = 100_000
"""Rounds after which an iteration is given up; sound problems need some dozens."""

DAMPING = 0.5
"""Share of a step that is taken once full steps go round in circles; best for any circle."""

SETTLED = 1e-11
"""Mass still on the move at which the shelves' odds are taken to stand."""

Back = Callable[[int, Floats, Floats, Floats, float], tuple[Floats, Ints]]
"""Day of the cycle, values of the next day, cost of trade, cost of a batch, discount -> values of
the day and its batches."""

On = Callable[[int, Floats], tuple[Floats, Rates]]
"""Day of the cycle and the odds of the shelves -> those of the next day, the day's rates."""


class _Steps:
    """How much of each step to take, and about how far there is still to go."""

    def __init__(self, problem: PerishableProblem) -> None:
        # a shelf that starts empty needs some lives until its changes shrink
        self.patience = 2 + 3 * problem.shelf_life // problem.n_days
        self.looked_at = 0
        self.share = 1.0
        self.before = self.left = np.inf

    def look(self, distance: float) -> None:
        """Take the length of a whole step into account."""
        ratio = min(distance / self.before, 1 - 1e-9) if self.before > 0 else 0.0
        self.looked_at += 1
        if self.looked_at > self.patience and ratio > 0.95:
            self.share = DAMPING
        # the steps that follow shrink like a geometric row
        self.left = distance * max(1.0, ratio / (1 - ratio))
        self.before = distance


def iterate_values(problem: PerishableProblem, back: Back, tolerance: float) -> ExactPlan:
    """Value iteration over the cycle.

    With the least and the largest change over one cycle in hand, the answer lies between the
    bounds of MacQueen (discounted) and Odoni (long run), whatever values the cycle began with.
    So the steps may be damped, without which a chain with a period would never come to rest.

    Parameters
    ----------
    problem : PerishableProblem
    back : callable
        One day back, see `Back`.
    tolerance : float
        Error of a day's cost that is allowed [money per day].

    Returns
    -------
    ExactPlan

    Raises
    ------
    ValueError
        When the tolerance is not positive.
    RuntimeError
        When the bounds do not meet within `MOST_CYCLES`.

    Notes
    -----
    M. L. Puterman, Markov Decision Processes, Wiley 1994, sections 6.6 and 8.5 (from memory).
    """
    if not tolerance > 0:
        raise ValueError(f"tolerance must be more than 0, but was {tolerance}")
    shelves, n_days = Shelves(problem), problem.n_days
    value, batch = np.empty((n_days, shelves.count)), np.empty((n_days, shelves.count), np.int32)
    start, steps = np.zeros(shelves.count), _Steps(problem)
    discount = 1.0 if problem.discount is None else problem.discount
    for _ in range(MOST_CYCLES):
        after = start
        for day in reversed(range(n_days)):
            costs = problem.day_cost[day], problem.batch_cost, discount
            value[day], batch[day] = back(day, after, *costs)
            after = value[day]
        change = value[0] - start
        middle, half = (change.max() + change.min()) / 2, (change.max() - change.min()) / 2
        steps.look(float(half))
        if half <= tolerance * n_days:
            break
        start += steps.share * (change - middle)
        # only differences matter in the long run; discounted values also move to their level
        start += -start[0] if discount == 1.0 else middle / (1 - discount**n_days)
    else:
        raise RuntimeError(
            f"no answer after {MOST_CYCLES:,} cycles: a day's cost is known to {half / n_days:g}, "
            f"not to {tolerance:g}"
        )
    to_end = n_days - np.arange(n_days)[:, None]
    gain = None
    if problem.discount is None:
        gain, error = float(middle) / n_days, half / n_days
        value -= to_end * gain
        value -= value[0, 0]
    else:
        left = 1 - discount**n_days
        value += discount**to_end * middle / left
        error = discount * half / left
    plan = shelves.outward(batch), shelves.outward(value)
    return ExactPlan(*plan, gain, float(error), steps.looked_at)


def settle(problem: PerishableProblem, on: On, empty: Floats, tolerance: float = SETTLED) -> Rates:
    """Rates per day in the long run.

    Parameters
    ----------
    problem : PerishableProblem
    on : callable
        One day on, see `On`.
    empty : array of float, shape (n_shelves,)
        Odds of the shelves on the first day.
    tolerance : float
        Odds still on the move at which they are taken to stand.

    Returns
    -------
    Rates

    Raises
    ------
    ValueError
        When the tolerance is not positive.
    RuntimeError
        When the odds do not come to rest within `MOST_CYCLES`.
    """
    if not tolerance > 0:
        raise ValueError(f"tolerance must be more than 0, but was {tolerance}")
    mass, steps = empty, _Steps(problem)
    for _ in range(MOST_CYCLES):
        end, days = mass, []
        for day in range(problem.n_days):
            end, rates = on(day, end)
            days.append(rates)
        steps.look(float(np.abs(end - mass).sum()))
        if steps.left <= tolerance:
            return Rates.mean(days)
        mass = mass + steps.share * (end - mass)
    raise RuntimeError(f"the shelf has not come to rest after {MOST_CYCLES:,} cycles")
