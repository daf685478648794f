"""The exact problem of a life of one day: one shelf, every evening empty."""

import numpy as np

from shrinkwise.engine.answers import Rates, day_rates
from shrinkwise.engine.perishable import Floats, Ints, PerishableProblem
from shrinkwise.engine.shelves import Shelves


class OneShelfLine:
    """A problem whose units are on sale for one day; each day is a newsvendor by itself."""

    def __init__(self, problem: PerishableProblem) -> None:
        self.problem, self.shelves = problem, Shelves(problem)

    def back(
        self, day: int, after: Floats, day_cost: Floats, batch_cost: Floats, discount: float
    ) -> tuple[Floats, Ints]:
        """Values and batches of a day of the cycle from the values of the next."""
        allowed = self.problem.batches[day]
        allowed = allowed[allowed < len(batch_cost)]
        cost = batch_cost[allowed] + day_cost[allowed, allowed] + discount * after[0]
        least = int(cost.argmin())
        return cost[[least]], np.array([allowed[least]], np.int32)

    def on(self, batch: Ints, day: int, mass: Floats) -> tuple[Floats, Rates]:
        """Odds of tomorrow's shelves, and the rates of a day of the cycle."""
        seen = np.zeros_like(self.problem.wasted[day])
        baked = np.zeros_like(self.problem.batch_cost)
        units = int(batch[day][0])
        seen[units, units] = baked[units] = mass[0]
        return mass.copy(), day_rates(self.problem, day, seen, baked)
