"""Fussy shoppers: their share and their limit day, from days without fresh units."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shrinkwise.engine.kind_odds import fussy_odds
from shrinkwise.shelf.kind_days import KindDays
from shrinkwise.shelf.kind_grid import GridPosterior, over_levels, rate_grid, weekday_fits

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

SHARES = 21

FEWEST_DAYS = 60


@dataclass(frozen=True)
class FussyDays:
    """Days that bear on fussy shoppers; those with reduced units on the shelf are left out."""

    days: KindDays
    kept: Bools

    @classmethod
    def of(cls, days: KindDays) -> "FussyDays":
        """The days of a line."""
        return cls(days, days.usable & (days.reduced_there == 0))

    @property
    def enough(self) -> bool:
        """There are as many as are needed."""
        return int(self.kept.sum()) >= FEWEST_DAYS

    def suspicion(self, oldest: float) -> float:
        """How surely fewer come on days short of young units, for the likeliest limit day
        [standard errors]; minus infinity where such days do not differ from others."""
        life = self.days.ledger.line.shelf_life_days
        return max(
            (self._fewer(until, oldest) for until in range(1, life)), default=float("-inf")
        )

    def _fewer(self, until_day: int, oldest: float) -> float:
        days, kept = self.days, self.kept
        mean, weekday = days.expected[kept], days.weekday[kept]
        missing = mean * days.short_of_young(until_day, oldest)[kept]
        open_ended = days.sold[kept] >= days.there[kept]
        fewer = mean - days.sold[kept]
        weight = np.where(open_ended, 0.0, 1 / (mean + days.alpha * mean**2))
        scale = np.stack([mean * (weekday == day) for day in range(7)], axis=1)
        # weighted least squares on the level of each weekday and what would be missing
        columns = np.column_stack([missing, scale])
        gram = (columns * weight[:, None]).T @ columns
        ridge = np.diag(np.append(1e-9, np.full(7, 1e-6)))
        inverse = np.linalg.inv(gram + ridge)
        if gram[0, 0] <= 0 or inverse[0, 0] > 1:
            return float("-inf")
        slope = inverse @ (columns.T @ (weight * fewer))
        return float(slope[0] / np.sqrt(inverse[0, 0]))

    def posterior(self, until_day: int, oldest: float) -> GridPosterior:
        """Of the share, were that the limit day."""
        days, kept = self.days, self.kept
        shares = np.linspace(0.0, 0.98 * (1 - oldest), SHARES)
        expected = days.expected[kept]
        rates = rate_grid(expected)
        young = np.minimum(days.young(until_day)[kept], days.there[kept])
        odds = fussy_odds(days.sold[kept], days.there[kept], young, rates, oldest, shares)
        fits = weekday_fits(odds, expected, days.weekday[kept], rates, days.alpha)
        return over_levels(fits, np.zeros(SHARES), shares[:, None])


def fussy_posterior(days: FussyDays, oldest: float) -> GridPosterior:
    """Of share and limit day together.

    Returns
    -------
    GridPosterior
        Values: share of all shoppers, last day on shelf on which they take a unit.
    """
    life = days.days.ledger.line.shelf_life_days
    of_limits = [(until, days.posterior(until, oldest)) for until in range(1, life)]
    return GridPosterior(
        values=np.concatenate(
            [np.column_stack([one.values, np.full(SHARES, until)]) for until, one in of_limits]
        ),
        log_likelihood=np.concatenate([one.log_likelihood for _, one in of_limits]),
        log_prior=np.zeros(SHARES * len(of_limits)),
        factor=np.concatenate([one.factor for _, one in of_limits]),
    )
