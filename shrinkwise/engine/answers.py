"""What the exact problem answers: the best batch for every shelf, and a rule's rates per day."""

from dataclasses import dataclass

import numpy as np

from shrinkwise.engine.perishable import Floats, Ints, PerishableProblem


@dataclass(frozen=True)
class ExactPlan:
    """The optimal batch for every shelf.

    Attributes
    ----------
    batch : array of int32, shape (n_days, *shelf_shape)
        Units to bake by day of the cycle and stock by age, youngest first [units]. Of batches
        that cost the same it is the smallest.
    value : array of float, shape as `batch`
        With a discount: the expected discounted cost from that shelf on [money]. Without: how
        much more it costs to start there than with an empty shelf on day 0 [money].
    gain : float or None
        The long-run cost per day [money per day]; None with a discount.
    error : float
        Bound on the error: of `gain` [money per day], or of every `value` with a discount [money].
    cycles : int
        Rounds of the cycle that it took.
    """

    batch: Ints
    value: Floats
    gain: float | None
    error: float
    cycles: int


@dataclass(frozen=True)
class Rates:
    """Expected units, bakes and cost per day.

    Attributes
    ----------
    baked, sold, short, wasted : float
        Units baked, sold, wanted and not there, disposed of [units per day].
    held : float
        Units on which holding is counted at the end of the day [units per day].
    bakes : float
        [bakes per day]
    full : float
        Chance that there was no room for a step more, or for the smallest batch: that the
        limit on what is there to sell may have mattered [per day].
    cost : float
        [money per day]
    """

    baked: float
    sold: float
    short: float
    wasted: float
    held: float
    bakes: float
    full: float
    cost: float

    @staticmethod
    def mean(days: "list[Rates]") -> "Rates":
        """The mean over some days."""
        rows = np.array([list(vars(day).values()) for day in days])
        return Rates(*(float(column) for column in rows.mean(axis=0)))


def day_rates(problem: PerishableProblem, day: int, seen: Floats, baked: Floats) -> Rates:
    """Rates of a day of the cycle.

    Parameters
    ----------
    problem : PerishableProblem
    day : int
        Day of the cycle, from 0.
    seen : array of float, shape of `problem.wasted` without its days
        Odds by units to sell on their last day and all units to sell.
    baked : array of float, shape (max_batch + 1,)
        Odds by batch.

    Returns
    -------
    Rates
    """
    wasted = float((seen * problem.wasted[day]).sum())
    to_sell = seen.sum(axis=0)
    left = float(to_sell @ problem.left_over[day])
    sold = float(to_sell @ np.arange(len(to_sell))) - left
    return Rates(
        baked=float(baked @ np.arange(len(baked))),
        sold=sold,
        short=float(problem.mean_demand[day]) - sold,
        wasted=wasted,
        held=left if problem.hold_counts_waste else left - wasted,
        bakes=float(baked[1:].sum()),
        full=float(to_sell[problem.most_on_shelf - problem.smallest_batch + 1 :].sum()),
        cost=float((seen * problem.day_cost[day]).sum() + baked @ problem.batch_cost),
    )
