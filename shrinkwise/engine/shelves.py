"""All shelves of a perishable problem in a row, as the loops number them.

A shelf is the reverse of the public one here: oldest place first, so that the youngest place is
counted fastest and the shelves that differ in the fresh batch alone are neighbours.
"""

from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from shrinkwise.engine.perishable import Floats, Ints, PerishableProblem


class Shelves:
    """The shelves of a problem.

    Parameters
    ----------
    problem : PerishableProblem

    Attributes
    ----------
    sizes : array of int64
        Numbers of units, 0 included, that each place can hold, oldest first.
    strides : array of int64
        How far apart two shelves are that differ by one unit in that place.
    count : int
    """

    def __init__(self, problem: PerishableProblem) -> None:
        self.problem = problem
        self.sizes = np.array(problem.shelf_shape[::-1], np.int64)
        self.strides = np.array(
            [np.prod(self.sizes[place + 1 :]) for place in range(len(self.sizes))], np.int64
        )
        self.count = int(np.prod(self.sizes))

    @cached_property
    def kind(self) -> tuple[NDArray[np.int64], NDArray[np.int64], bool, bool]:
        """Sizes, strides, whether the batch comes a day later, whether the oldest go first."""
        early, oldest_first = self.problem.lead_days == 1, self.problem.picks == "oldest"
        return self.sizes, self.strides, early, oldest_first

    def outward(self, rows: NDArray[Any]) -> NDArray[Any]:
        """Rows by day in the public order, youngest place first."""
        table = rows.reshape(len(rows), *self.sizes)
        return table.transpose(0, *range(table.ndim - 1, 0, -1))

    def inward(self, policy: Ints) -> Ints:
        """A policy's batches in rows by day.

        Raises
        ------
        ValueError
            When the policy has another shape or bakes what the problem does not allow.
        """
        problem = self.problem
        batch = np.asarray(policy)
        shape = (problem.n_days, *problem.shelf_shape)
        if batch.shape != shape:
            raise ValueError(
                f"a policy must have shape {shape} (day of the cycle, stock by age from the "
                f"youngest on), but had {batch.shape}"
            )
        if not np.issubdtype(batch.dtype, np.integer):
            raise ValueError(f"a policy must be whole units, but was {batch.dtype}")
        if batch.min() < 0 or batch.max() > problem.max_batch or (batch % problem.batch_step).any():
            raise ValueError(
                f"batches must be multiples of {problem.batch_step} from 0 to "
                f"{problem.max_batch}, but were {batch.min()} to {batch.max()}"
            )
        turned = batch.transpose(0, *range(batch.ndim - 1, 0, -1))
        return np.ascontiguousarray(turned.reshape(problem.n_days, -1), np.int32)

    def empty(self) -> Floats:
        """All mass on the empty shelf."""
        mass = np.zeros(self.count)
        mass[0] = 1.0
        return mass
