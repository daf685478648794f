"""How far an offer may move before the switch no longer pays."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from shrinkwise.demand.factor import DemandFactor
from shrinkwise.demand.paths import INTERVAL
from shrinkwise.planning.outcome import standard_error
from shrinkwise.scenarios.pool import Pool, on_terms

Floats = NDArray[np.float64]
Term = Literal[
    "dough_cost",
    "price",
    "demand_factor",
    "extra_days",
    "extra_cost",
    "price_factor",
    "common_demand",
    "more_days",
]
"""Of a switch of one line, and of one of several, of which the last four are common to all."""

MOST_TRIALS = 4
"""Times that a line is planned anew at its break-even, each from the last."""

DEAREST = 4.0
"""Prices that are looked at: up to so many times the offered one."""

FACTORS = (0.1, 3.0)
"""Demand factors that are looked at."""

FACTOR_STEP = 2e-3
"""To which a demand factor is found."""

MORE_DAYS = 3
"""Days beyond the offered shelf life that are looked at where the offer does not pay."""


@dataclass(frozen=True)
class BreakEven:
    """Where the switch just pays, all else as offered.

    Attributes
    ----------
    term : str
    offered : float
    root : float or None
        Highest dough cost, lowest price, smallest demand factor, or fewest extra days at which
        it still pays; None where there is none within what is looked at.
    low, high : float or None
        Between which the break-evens of nine of ten futures lie.
    difference, difference_se : float or None
        What the switch brings with the line planned anew at the root, and its standard error
        [money per week].
    """

    term: Term
    offered: float
    root: float | None = None
    low: float | None = None
    high: float | None = None
    difference: float | None = None
    difference_se: float | None = None


def money_break_even(pool: Pool, term: Literal["dough_cost", "price"]) -> tuple[BreakEven, Pool]:
    """The highest dough cost or the lowest price at which the switch still pays.

    Under any one plan what the switch brings is a straight line of the term, so that under the
    best of several it is their upper hull, whose root `brentq` finds. There the line is planned
    anew; the new plan can only lift the hull, and the root is looked for again until a new plan
    lifts it by less than its standard error. Every plan is judged on the same futures. The
    interval has the roots of the 5% and the 95% quantile over the futures.

    Returns
    -------
    tuple of BreakEven and Pool
        The pool with the plans found at the root.
    """
    offered: float = getattr(pool.offered, term)
    is_cost = term == "dough_cost"
    cost, price = pool.offered.dough_cost, pool.offered.price
    bracket = (0.0, price) if is_cost else (min(cost, price), DEAREST * price)

    def brought(x: float) -> Floats:
        return pool.best(**{term: x})

    judging = pool.footing.judging(pool.offered.name, pool.factor)
    root, rerun = root_of(lambda x: float(brought(x).mean()), bracket), None
    for trial in range(MOST_TRIALS):
        if root is None:
            break
        known, _ = pool.best_sale(**{term: root})
        line = on_terms(known.line, **{term: root})
        fresh = pool.footing.sale(line, pool.store, judging)
        rerun = pool.bringing(fresh, line)
        # the pool keeps the offer's own money, which every trial moves
        pool = pool.with_sales(replace(fresh, line=known.line))
        if trial == MOST_TRIALS - 1 or rerun.mean() <= standard_error(rerun):
            break
        root = root_of(lambda x: float(brought(x).mean()), bracket)
    return _found(term, offered, (root, *interval_of(brought, bracket)), rerun), pool


def factor_break_even(pool: Pool) -> BreakEven:
    """The smallest demand factor at which the switch still pays.

    Futures are drawn anew for each factor, with the same draws behind them, and plans made for
    another factor are carried over to it; at the root the line is planned anew, and the root
    looked for again with that plan among the others, as in `money_break_even`.
    """
    made_for = 1.0 if pool.factor is None else pool.factor.mean
    sd = 0.0 if pool.factor is None else pool.factor.sd
    best = pool.best_sale()[0]
    bases = [(made_for, best)]

    def brought(x: float) -> Floats:
        return pool.at_factor(x, bases)

    root, rerun = root_of(lambda x: float(brought(x).mean()), FACTORS, FACTOR_STEP), None
    for trial in range(MOST_TRIALS):
        if root is None:
            break
        judging = pool.footing.judging(pool.offered.name, DemandFactor(root, sd))
        fresh = pool.footing.sale(best.line, pool.store, judging)
        rerun = pool.bringing(fresh, best.line)
        bases.append((root, fresh))
        if trial == MOST_TRIALS - 1 or rerun.mean() <= standard_error(rerun):
            break
        root = root_of(lambda x: float(brought(x).mean()), FACTORS, FACTOR_STEP)
    places = (root, *interval_of(brought, FACTORS, FACTOR_STEP))
    return _found("demand_factor", made_for, places, rerun)


def days_break_even(pool: Pool) -> tuple[BreakEven, Pool]:
    """The fewest extra days of shelf life at which the switch still pays.

    Lives are planned one by one: below the offered one while the switch pays, beyond it while
    it does not, up to three days and within the limit of a filled line.

    Returns
    -------
    tuple of BreakEven and Pool
        The pool with the plans of the lives that were looked at.
    """
    offered, present = pool.offered, pool.present
    longest = min(offered.shelf_life_days + MORE_DAYS, offered.longest_life)
    judging = pool.footing.judging(offered.name, pool.factor)

    def planned(life: int) -> Pool:
        if any(sale.line.shelf_life_days == life for sale in pool.sales):
            return pool
        return pool.with_sales(pool.footing.sale(offered.with_life(life), pool.store, judging))

    def fewest(measure: Callable[[Floats], float]) -> int | None:
        lives = sorted({sale.line.shelf_life_days for sale in pool.sales})
        return next((life for life in lives if measure(pool.upto(life).best()) > 0), None)

    def mean(brought: Floats) -> float:
        return float(brought.mean())

    life = offered.shelf_life_days
    while fewest(mean) is None and life < longest:
        pool = planned(life := life + 1)
    while (found := fewest(mean)) is not None and found > 1:
        if found > min(sale.line.shelf_life_days for sale in pool.sales):
            break
        pool = planned(found - 1)
    fewest_days = [fewest(mean), *(fewest(partial(quantile, q)) for q in INTERVAL[::-1])]
    now = present.shelf_life_days
    extra, few, many = (None if days is None else float(days - now) for days in fewest_days)
    rerun = None if fewest_days[0] is None else pool.upto(fewest_days[0]).best()
    return _found("extra_days", offered.shelf_life_days - now, (extra, few, many), rerun), pool


def quantile(q: float, brought: Floats) -> float:
    """Of what a switch brings over the futures [money per week]."""
    return float(np.quantile(brought, q))


def _of_quantile(brought: Callable[[float], Floats], q: float, x: float) -> float:
    return quantile(q, brought(x))


def root_of(
    of: Callable[[float], float], bracket: tuple[float, float], step: float = 1e-6
) -> float | None:
    """Where a function changes its sign, or None where it does not."""
    low, high = bracket
    if of(low) * of(high) > 0:
        return None
    return float(brentq(of, low, high, xtol=step))


def interval_of(
    brought: Callable[[float], Floats], bracket: tuple[float, float], step: float = 1e-6
) -> tuple[float | None, float | None]:
    """Where the 5% and the 95% quantile of what a switch brings change their signs, ascending."""
    low, high = (root_of(partial(_of_quantile, brought, q), bracket, step) for q in INTERVAL)
    return (low, high) if low is None or high is None else (min(low, high), max(low, high))


def _found(
    term: Term,
    offered: float,
    places: tuple[float | None, float | None, float | None],
    rerun: Floats | None,
) -> BreakEven:
    root, low, high = places
    if root is None or rerun is None:
        return BreakEven(term, offered, None, low, high)
    # at a root nothing is left but rounding, which has no sign to show
    difference = round(float(rerun.mean()), 9) + 0.0
    return BreakEven(term, offered, root, low, high, difference, standard_error(rerun))
