"""What one more day of shelf life is worth, for a line and for the store."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray

from shrinkwise.demand.paths import INTERVAL
from shrinkwise.planning.outcome import Outcome, standard_error

Floats = NDArray[np.float64]

STEPS = (-1, 0, 1, 2)
"""Days of shelf life more or less than now that the store's table shows."""


@dataclass(frozen=True)
class Worth:
    """Another shelf life against a base, on the same futures.

    Attributes
    ----------
    savings : array of float, shape (n_paths,)
        Loss that it saves on each future [money per week].
    dough, dough_se : float
        Highest extra dough cost of a unit at which it still pays, with its standard error; below
        zero, by how much the dough must be cheaper; nan where nothing is baked [money per unit].
    """

    savings: Floats
    dough: float
    dough_se: float

    @property
    def saving(self) -> float:
        """On average [money per week]."""
        return float(self.savings.mean())

    @property
    def saving_se(self) -> float:
        """Standard error of the paired difference [money per week]."""
        return standard_error(self.savings)

    @property
    def interval(self) -> tuple[float, float]:
        """What it saves in nine of ten futures lies between these [money per week]."""
        low, high = np.quantile(self.savings, INTERVAL)
        return float(low), float(high)


def worth(base: Sequence[Outcome], other: Sequence[Outcome]) -> Worth:
    """What the other outcomes save against the base, line by line added up.

    An extra dough cost e takes e from the result for every unit sold or disposed of, from the shelf
    or from the freezer, if the plan stays as it is; what is left is stock at its cost. So the
    break-even is the loss saved over these units, a ratio of means whose error is that of its
    linear part (W. G. Cochran, Sampling Techniques, 3rd ed., Wiley 1977, chapter 6). A plan made
    for the dearer dough can only do better: the true break-even is that or somewhat higher.

    Parameters
    ----------
    base, other : sequence of Outcome
        The same lines in the same order, on the same paths.

    Returns
    -------
    Worth
    """
    saved = total([one.money.loss for one in base]) - total([one.money.loss for one in other])
    units = [one.quantities for one in other]
    used = total([one.baked - one.stock_change + one.freezer_disposed for one in units])
    if not used.mean() > 0:
        return Worth(saved, float("nan"), float("nan"))
    ratio = saved.mean() / used.mean()
    around = (saved - ratio * used) / used.mean()
    return Worth(saved, float(ratio), standard_error(around))


def total(of_lines: Sequence[Floats]) -> Floats:
    """The sum over lines, path by path; shape (n_paths,)."""
    return np.asarray(np.sum(of_lines, axis=0), np.float64)


def step_row(
    extra_days: int,
    habit: Sequence[Outcome],
    best: Sequence[Outcome],
    present: Sequence[Outcome],
) -> dict[str, float]:
    """The week of several lines with so many days more, against their present lives.

    Parameters
    ----------
    extra_days : int
    habit, best : sequence of Outcome
        Of each line with that life.
    present : sequence of Outcome
        Of each line with its present life under its best plan.

    Returns
    -------
    dict of str to float
        A row of `steps_table`.
    """
    found = worth(present, best)
    low, high = found.interval

    def mean(outcomes: Sequence[Outcome], part: str, name: str) -> float:
        return float(total([getattr(getattr(one, part), name) for one in outcomes]).mean())

    return {
        "extra_days": extra_days,
        "lines": len(best),
        "waste_units_habit": mean(habit, "quantities", "disposed"),
        "waste_units_best": mean(best, "quantities", "disposed"),
        "labour_hours_best": mean(best, "money", "labour_hours"),
        "bakes_best": mean(best, "quantities", "bakes"),
        "in_stock_pct_best": float(np.mean([one.in_stock_pct.mean() for one in best])),
        "loss_habit": mean(habit, "money", "loss"),
        "loss_best": mean(best, "money", "loss"),
        "saving_week": found.saving,
        "saving_week_se": found.saving_se,
        "saving_week_low": low,
        "saving_week_high": high,
        "extra_dough_cost": found.dough,
        "extra_dough_cost_se": found.dough_se,
    }


def steps_table(rows: Sequence[dict[str, float]]) -> pl.DataFrame:
    """Rows of `step_row` as a table."""
    return pl.DataFrame(rows).fill_nan(None)
