"""What a switch brings in a year, against what it costs once."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shrinkwise.demand.paths import INTERVAL
from shrinkwise.scenarios.compare import WEEKS_A_YEAR, Comparison

Floats = NDArray[np.float64]

BAD_WEEK = 0.1
"""Quantile of the single weeks of all futures: one week in ten is worse."""


@dataclass(frozen=True)
class Payoff:
    """What a switch brings.

    Attributes
    ----------
    week : array of float, shape (n_paths,)
        Result of a week with the switch less the result without [money per week].
    one_off_cost : float
        [money]
    by_week : array of float, shape (n_weeks, n_paths)
        The same of every week by itself [money per week].
    """

    week: Floats
    one_off_cost: float
    by_week: Floats

    @classmethod
    def of(cls, comparison: Comparison, index: int, under_habit: bool = False) -> "Payoff":
        """Of a scenario, each line under its best plan or under the present habit."""
        then, now = comparison.scenarios[index], comparison.now
        weeks = (then.habit, now.habit) if under_habit else (then.best, now.best)
        difference = weeks[0].money.result - weeks[1].money.result
        by_week = weeks[0].by_week - weeks[1].by_week
        return cls(difference, comparison.asked[index].one_off_cost, by_week)

    @property
    def first_year(self) -> Floats:
        """What the first year brings after the one-off costs, shape (n_paths,) [money]."""
        return self.yearly(self.week)

    def yearly(self, week: Floats) -> Floats:
        """What weeks like these bring in a first year after the one-off costs [money]."""
        return WEEKS_A_YEAR * week - self.one_off_cost

    @property
    def bad_week(self) -> float:
        """What the switch brings in the bad week in ten: the 10% quantile over weeks and futures
        [money per week]."""
        return float(np.quantile(self.by_week, BAD_WEEK))

    @property
    def chance_pct(self) -> float:
        """Chance that the switch pays within a year [% of futures]."""
        return 100 * float((self.first_year > 0).mean())

    @property
    def payback_weeks(self) -> tuple[float | None, float | None, float | None]:
        """Weeks until the one-off costs are earned back: on average, and where a week brings as
        much, and as little, as nine of ten futures leave open; None: never."""
        brought = (float(self.week.mean()), *np.quantile(self.week, INTERVAL[::-1]))
        return tuple(_weeks(self.one_off_cost, week) for week in brought)  # type: ignore[return-value]


def _weeks(cost: float, brought: float) -> float | None:
    if cost == 0:
        return 0.0 if brought >= 0 else None
    return float(cost / brought) if brought > 0 else None
