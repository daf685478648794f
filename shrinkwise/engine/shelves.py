"""All shelves of a perishable problem in a row, as the loops number them.

A shelf is the reverse of the public one here: oldest place first, so that the youngest place is
counted fastest and the shelves that differ in the fresh batch alone are neighbours.
"""

from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from shrinkwise.engine.perishable import Floats, Ints, PerishableProblem, Units


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

    @cached_property
    def stock(self) -> NDArray[np.int64]:
        """Units on each shelf, shape `shelf_shape`."""
        units = np.zeros(self.problem.shelf_shape, np.int64)
        for place in np.indices(self.problem.shelf_shape, sparse=True):
            units += place
        return units

    def fitted(self, day: int, batch: NDArray[np.integer]) -> NDArray[np.integer]:
        """Batches of a day, those that there is no room for cut to the largest that fits.

        Parameters
        ----------
        day : int
            Day of the cycle.
        batch : array of int, shape `shelf_shape`
            [units]
        """
        if self.problem.max_to_sell is None:
            return batch
        allowed = self.problem.batches[day]
        room = np.maximum(self.problem.max_to_sell - self.stock, 0)
        largest = allowed[np.searchsorted(allowed, room, side="right") - 1]
        return np.minimum(batch, largest)

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
        for day, allowed in enumerate(problem.batches):
            if not np.isin(batch[day], allowed).all():
                raise ValueError(
                    f"batches of day {day} must be {_told(problem, allowed)}; they were "
                    f"{batch[day].min()} to {batch[day].max()}"
                )
            if np.any(batch[day] != self.fitted(day, batch[day])):
                raise ValueError(
                    f"batches must leave no more than {problem.max_to_sell} units to sell, "
                    f"but some of day {day} leave more"
                )
        turned = batch.transpose(0, *range(batch.ndim - 1, 0, -1))
        return np.ascontiguousarray(turned.reshape(problem.n_days, -1), np.int32)

    def empty(self) -> Floats:
        """All mass on the empty shelf."""
        mass = np.zeros(self.count)
        mass[0] = 1.0
        return mass


def _told(problem: PerishableProblem, allowed: Units) -> str:
    """The batches that are allowed on a day, in words."""
    if len(allowed) == 1:
        return "0, since it is no day to bake on"
    least = int(allowed[1])
    small = f", but not from 1 to {least - 1}" if least > problem.batch_step else ""
    return f"multiples of {problem.batch_step} from 0 to {problem.max_batch}{small}"
