"""How long a perishable problem takes and how much it keeps in mind, before it is begun."""

from functools import reduce
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from shrinkwise.engine.perishable import PerishableProblem

PER_PRODUCT = 1 / 16
"""Steps of a multiplication within a product of matrices, which goes faster than a loop."""

PER_BATCH = 10
"""Steps of a batch that is weighed for a shelf."""


def work_of(problem: "PerishableProblem") -> float:
    """Inner steps of one round of the cycle back, each about a nanosecond.

    An answer takes some rounds: three to five where each round forgets the last, dozens where
    units keep for many rounds.

    Parameters
    ----------
    problem : PerishableProblem
    """
    return sum(_day(problem, day) for day in range(problem.n_days))


def most_cells(problem: "PerishableProblem") -> int:
    """Numbers that the loops for shoppers of both kinds keep for a day at most; else 0."""
    if not problem.is_mixed:
        return 0
    rows = max(_taken(problem, day) for day in range(problem.n_days))
    pairs = max(_pairs(problem, day, 1) for day in range(problem.n_days))
    return 2 * rows * pairs


def _day(problem: "PerishableProblem", day: int) -> float:
    n_batches = problem.max_batch + 1
    longest = len(problem.demand[day])
    if problem.is_mixed:
        taken = _taken(problem, day)
        freshest = min(longest, problem.most_on_shelf + 1)
        products = 2.0 * taken * freshest * _pairs(problem, day, 1)
        return products * PER_PRODUCT + PER_BATCH * _pairs(problem, day, 0)
    shelves = problem.n_states / problem.n_days
    runs = 1 + min(longest, problem.most_on_shelf / 2)
    if problem.picks == "freshest" and not problem.lead_days:
        runs += min(longest, n_batches) / 2
    return float(shelves * n_batches * runs)


def _taken(problem: "PerishableProblem", day: int) -> int:
    """Numbers of units that the oldest-first can take of the older ones, 0 included."""
    older = sum(size - 1 for size in problem.shelf_shape)
    return min(older, problem.most_on_shelf, len(problem.demand[day]) - 1) + 1


def _pairs(problem: "PerishableProblem", day: int, places_less: int) -> int:
    """Shelves, with so many places less, each with every batch that there is room for."""
    most = problem.most_on_shelf
    sizes = problem.shelf_shape[places_less:]
    # how many shelves hold 0, 1, 2, ... units
    by_stock = reduce(
        lambda so_far, size: np.convolve(so_far, np.ones(size))[: most + 1], sizes, np.ones(1)
    )
    room = most - np.arange(len(by_stock))
    return int(by_stock @ np.searchsorted(problem.batches[day], room, side="right"))
