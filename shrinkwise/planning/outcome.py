"""What a plan of one line comes to, future by future."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shrinkwise.engine.policy import Policy, Shelf
from shrinkwise.engine.simulate import Flows, simulate
from shrinkwise.money.week import Money, Quantities, money_of
from shrinkwise.planning.futures import Futures
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Labour

Floats = NDArray[np.float64]

FLOOR_WEIGHT = 1e6
"""Of a point of in-stock below the floor, against money: no saving outweighs it."""


TIE_ERRORS = 1.0
"""Standard errors of the paired difference within which two finalists cost the same."""

TIE_PCT = 0.2
"""Difference that is no reason for more trouble, in percent of the loss."""


@dataclass(frozen=True)
class Outcome:
    """A week under one plan, on every path: all arrays have shape (n_paths,).

    Attributes
    ----------
    quantities : Quantities
        Per week.
    money : Money
        Per week, without the opening of baking days.
    in_stock_pct : array of float
        Share of open days on which no shopper went without [% of open days].
    batch_by_weekday : array of float, shape (7,)
        Mean batch on each weekday over its open days, those without a bake included [units].
    flows : Flows
        The units behind it, over the whole horizon, one plan.
    """

    quantities: Quantities
    money: Money
    in_stock_pct: Floats
    batch_by_weekday: Floats
    flows: Flows


def line_outcome(
    line: Line,
    labour: Labour,
    futures: Futures,
    policy: Policy,
    opening_by_age: NDArray[np.int16] | None = None,
) -> Outcome:
    """Play one plan of a line on its futures, from a shelf that is empty when not told."""
    flows = played(line, futures, policy, opening_by_age)
    quantities = _week(flows, line, futures).at(0)
    counted = slice(futures.days.first_day, None)
    open_weekdays = futures.days.weekday[counted][futures.days.is_open[counted]]
    chances = futures.n_paths * np.bincount(open_weekdays, minlength=7)
    return Outcome(
        quantities=quantities,
        money=money_of(quantities, line, labour),
        in_stock_pct=100 * (1 - flows.short_days[0] / futures.open_days),
        batch_by_weekday=flows.baked[0].sum(axis=1) / np.maximum(chances, 1),
        flows=flows,
    )


@dataclass(frozen=True)
class Weighed:
    """Many plans of one line, weighed on the same futures.

    Attributes
    ----------
    losses : array of float, shape (n_plans, n_paths)
        Weekly loss [money per week].
    short_of_floor_pct : array of float, shape (n_plans,)
        By how much the mean in-stock falls short of the line's floor; 0 without one
        [% of open days].
    """

    losses: Floats
    short_of_floor_pct: Floats

    @property
    def demerits(self) -> Floats:
        """Mean loss, after which any plan that is nearer to the floor goes first; (n_plans,)."""
        return _demerits(self.losses.mean(axis=1), self.short_of_floor_pct)


def weighed(
    line: Line,
    labour: Labour,
    futures: Futures,
    policy: Policy,
    opening_by_age: NDArray[np.int16] | None = None,
) -> Weighed:
    """Play many plans of a line on its futures, from a shelf that is empty when not told."""
    return weighed_flows(played(line, futures, policy, opening_by_age), line, labour, futures)


def weighed_flows(flows: Flows, line: Line, labour: Labour, futures: Futures) -> Weighed:
    """Plans of a line that were played on its futures."""
    money = money_of(_week(flows, line, futures), line, labour)
    return Weighed(money.loss, _short_of_floor(flows, line, futures))


def _week(flows: Flows, line: Line, futures: Futures) -> Quantities:
    return _counted(flows, futures).per(futures.weeks).from_freezer(line)


def _counted(flows: Flows, futures: Futures) -> Quantities:
    """The units of a simulation, with those of shoppers who came for a bargain alone: all that
    was sold beside the demand."""
    counted = Quantities.of_flows(flows)
    if futures.fussy_until_day is None:
        return counted
    days = futures.days
    played = days.is_open & (np.arange(len(days.is_open)) >= days.first_day)
    served = counted.sold_full + counted.sold_reduced + counted.unmet
    return replace(counted, bargains=served - futures.wanted[played].sum(axis=0))


def weeks_of(line: Line, futures: Futures, policy: Callable[[Futures], Policy]) -> Quantities:
    """Every counted week under one plan, arrays of shape (n_weeks, n_paths).

    What is thrown from the freezer is spread evenly over the weeks.

    Parameters
    ----------
    line : Line
    futures : Futures
    policy : callable
        The plan on the first days of the futures.
    """
    ends = range(futures.days.first_day, len(futures.days.weekday) + 1, 7)
    upto = [futures.upto(end) for end in ends[1:]]
    sums = [_counted(played(line, one, policy(one)), one).at(0) for one in upto]
    thrown = sums[-1].per(len(sums)).from_freezer(line).freezer_disposed
    weeks = Quantities.of_weeks(sums)
    return replace(weeks, freezer_disposed=weeks.freezer_disposed + thrown)


def demerits(line: Line, labour: Labour, futures: Futures, policy: Policy) -> Floats:
    """What is to be as small as it can be in a search, shape (n_plans,): see `Weighed`."""
    flows = played(line, futures, policy)
    if line.least_pace > 0:
        # what is thrown from the freezer depends on the pace of each path
        week = _week(flows, line, futures).on_average()
    else:
        week = _counted(flows, futures).on_average().per(futures.weeks)
    # money is linear in the quantities
    return _demerits(money_of(week, line, labour).loss, _short_of_floor(flows, line, futures))


def _demerits(loss: Floats, short_of_floor_pct: Floats) -> Floats:
    return loss + FLOOR_WEIGHT * short_of_floor_pct


def _short_of_floor(flows: Flows, line: Line, futures: Futures) -> Floats:
    if line.in_stock_floor_pct is None:
        return np.zeros(len(flows.unmet))
    in_stock_pct = 100 * (1 - flows.short_days.mean(axis=1) / futures.open_days)
    return np.maximum(line.in_stock_floor_pct - in_stock_pct, 0.0)


def played(
    line: Line,
    futures: Futures,
    policy: Policy,
    opening_by_age: NDArray[np.int16] | None = None,
    by_day: bool = False,
) -> Flows:
    """Play plans of a line on its futures, perhaps with the batch of every day."""
    return simulate(
        futures.streams,
        policy,
        shelf_of(line, futures),
        futures.days,
        opening_by_age,
        after_count=futures.after_count,
        by_day=by_day,
    )


def shelf_of(line: Line, futures: Futures) -> Shelf:
    """The shelf as the engine sees it."""
    return Shelf(line.shelf_life_days, line.reduce_on_day, futures.fussy_until_day)


def standard_error(difference: Floats) -> float:
    """Standard error of the mean of paired differences, one per path."""
    if len(difference) < 2:
        return float("nan")
    return float(difference.std(ddof=1) / np.sqrt(len(difference)))


def tie_margin(difference: Floats, losses: Floats) -> float:
    """Difference of two plans up to which they cost the same: within the noise of the futures, or
    too little to go to more trouble for [money per week].

    Parameters
    ----------
    difference : array of float, shape (n_paths,)
        Paired differences.
    losses : array of float, shape (n_paths,)
        Of the better plan.
    """
    small = TIE_PCT / 100 * abs(float(losses.mean()))
    return max(TIE_ERRORS * standard_error(difference), small)
