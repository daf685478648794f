"""A line as an exact problem: a typical week of its futures, its costs, and a rule's batches."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shrinkwise.engine.perishable import Ints, PerishableProblem
from shrinkwise.engine.shelves import Shelves
from shrinkwise.engine.streams import FRESHEST, OLDEST
from shrinkwise.planning.futures import Futures
from shrinkwise.planning.rule import Rule
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Labour, Store

WEEK = 7


@dataclass(frozen=True, eq=False)
class TypicalWeek:
    """A week without end that stands for the futures: all paths and weeks thrown together.

    Attributes
    ----------
    demand : tuple of array of float
        Probabilities of 0, 1, 2, ... units by weekday, Monday first; none are wanted for certain
        on a weekday that is never open.
    oldest_share : float
        Share of the units that are wanted oldest first.
    is_open : array of bool, shape (7,)
        Weekdays that are ever open.
    """

    demand: tuple[NDArray[np.float64], ...]
    oldest_share: float
    is_open: NDArray[np.bool_]

    @classmethod
    def of(cls, futures: Futures) -> "TypicalWeek":
        """The week that the counted open days of the futures make."""
        days = futures.days
        counted = np.arange(len(days.weekday)) >= days.first_day
        wanted = futures.wanted
        demand, is_open = [], np.zeros(WEEK, np.bool_)
        for weekday in range(WEEK):
            of_day = wanted[counted & days.is_open & (days.weekday == weekday)]
            is_open[weekday] = len(of_day) > 0
            units = np.bincount(of_day.ravel()) if is_open[weekday] else np.ones(1)
            demand.append(units / units.sum())
        played = counted & days.is_open
        oldest = int(futures.streams[OLDEST, played].sum(dtype=np.int64))
        freshest = int(futures.streams[FRESHEST, played].sum(dtype=np.int64))
        # where nobody comes it does not matter what they take
        share = oldest / max(oldest + freshest, 1)
        return cls(tuple(demand), share, is_open)


def line_problem(
    line: Line, store: Store, week: TypicalWeek, batch: int, room: int
) -> PerishableProblem:
    """The line in the planner's own terms: what it loses is what it costs.

    Parameters
    ----------
    line : Line
    store : Store
    week : TypicalWeek
    batch, room : int
        Largest batch, and most units to sell on one day, that are looked at [units].

    Returns
    -------
    PerishableProblem
        Its cost is waste, markdown, labour and missed margin, as in `money_of`.
    """
    labour = store.labour
    may_bake = store.bake_weekdays(line)
    is_reduced = line.reduced_price is not None
    # with one day on sale it does not matter who takes which
    one_day = line.shelf_life_days == 1
    return PerishableProblem(
        demand=week.demand,
        shelf_life=line.shelf_life_days,
        picks="oldest" if one_day else week.oldest_share,
        max_batch=batch,
        max_to_sell=None if one_day else room,
        batch_step=line.batch_step,
        min_batch=line.least_batch,
        bakes_on=[bool(week.is_open[day]) and day in may_bake for day in range(WEEK)],
        unit_cost=_wages(labour, labour.minutes_per_unit),
        bake_cost=_wages(labour, labour.minutes_per_bake),
        pan_cost=_wages(labour, labour.minutes_per_pan),
        units_per_pan=line.units_per_pan,
        short_cost=line.unit_margin,
        waste_cost=line.dough_cost
        + line.disposal_cost
        + _wages(labour, labour.minutes_per_disposed_unit),
        hold_cost=0.0,
        last_day_cost=_wages(labour, labour.minutes_per_reduced_unit) if is_reduced else 0.0,
        last_sale_cost=line.price - (line.reduced_price or line.price),
    )


def _wages(labour: Labour, minutes: float) -> float:
    return labour.wage_per_hour * minutes / 60


def batches_of(rule: Rule, problem: PerishableProblem, line: Line) -> Ints:
    """The rule's batches for every weekday and shelf, as `evaluate` takes them.

    Parameters
    ----------
    rule : Rule
    problem : PerishableProblem
        With a cycle of seven days, Monday first.
    line : Line

    Returns
    -------
    array of int32, shape (7, *shelf_shape)
        [units], cut to what there is room for in the problem; 0 on days without a bake.

    Raises
    ------
    ValueError
        When the rule's largest batch is more than the problem's.
    """
    shelves = Shelves(problem)
    batches = np.zeros((WEEK, *problem.shelf_shape), np.int32)
    plain = replace(rule, sold_by_night=None)
    for weekday in rule.bake_days:
        if len(problem.batches[weekday]) == 1:
            continue
        if rule.batch_table is not None:
            batches[weekday] = shelves.fitted(
                weekday, _enlarged(rule.batch_table[weekday], problem)
            )
            continue
        # what of the shelf the rule does not look at cannot matter to its batch
        counted = shelves.stock - going_out(rule, weekday, problem.shelf_shape)
        by_count = [plain.batch(weekday, (0, n), line) for n in range(int(counted.max()) + 1)]
        if max(by_count) > problem.max_batch:
            raise ValueError(
                f"the rule's batches must be at most {problem.max_batch} units, but go up to "
                f"{max(by_count)}"
            )
        batches[weekday] = shelves.fitted(weekday, np.array(by_count, np.int32)[counted])
    return batches


def _enlarged(table: NDArray[np.int16], problem: PerishableProblem) -> Ints:
    """A weekday's table of batches for the shelves of a problem: its last batch goes on."""
    if table.max(initial=0) > problem.max_batch:
        raise ValueError(
            f"the rule's batches must be at most {problem.max_batch} units, but go up to "
            f"{table.max()}"
        )
    places = (
        np.minimum(np.arange(units), most - 1)
        for units, most in zip(problem.shelf_shape, table.shape, strict=True)
    )
    return table[np.ix_(*places)].astype(np.int32)


def going_out(rule: Rule, weekday: int, shape: tuple[int, ...]) -> NDArray[np.int64]:
    """`Rule.going_out` for every shelf at once [units].

    Parameters
    ----------
    rule : Rule
    weekday : int
        Of the bake.
    shape : tuple of int
        Numbers of units that each place of the shelf can hold and 0, youngest first.
    """
    out = np.zeros(shape, np.int64)
    if rule.sold_by_night is None:
        return out
    upto = np.zeros((1,) * len(shape), np.int64)
    oldest_first = reversed(np.indices(shape, sparse=True))
    for units, sold in zip(oldest_first, rule.sold_by_night[weekday], strict=False):
        if sold < 0:
            break
        upto = upto + units
        out = np.maximum(out, upto - int(sold))
    return out
