"""How far an offer may move before the switch no longer pays."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from shrinkwise.demand.paths import INTERVAL
from shrinkwise.planning.outcome import standard_error
from shrinkwise.scenarios.pool import Pool
from shrinkwise.scenarios.reach import FACTOR_STEP, Reach, quantile
from shrinkwise.scenarios.terms import Shoppers, Terms

Floats = NDArray[np.float64]
Term = Literal[
    "dough_cost",
    "price",
    "demand_factor",
    "fussy_pct",
    "extra_days",
    "extra_cost",
    "price_factor",
    "common_demand",
    "common_fussy",
    "more_days",
]
"""Of a switch of one line, and of one of several, of which the last five are common to all."""

OneTerm = Literal["dough_cost", "price", "demand_factor", "fussy_pct"]
"""Terms that move freely."""

MOST_TRIALS = 4
"""Times that a line is planned anew at its break-even, each from the last."""

DEAREST = 4.0
"""Prices that are looked at: up to so many times the offered one."""

FACTORS = Reach(0.1, 3.0, FACTOR_STEP)
"""Demand factors that are looked at."""

SHARES = Reach(0.0, 100.0, 1.0, is_share=True)
"""Shares of fussy shoppers [%]."""

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
        Highest dough cost, lowest price, smallest demand factor, largest share of fussy shoppers
        or fewest extra days at which it still pays; None where there is none within what is
        looked at.
    low, high : float or None
        Between which the break-evens of nine of ten futures lie.
    difference, difference_se : float or None
        What the switch brings with the line planned anew at the root, and its standard error
        [money per week].
    until_day : int or None
        Last day on shelf on which fussy shoppers take a unit, where it is of them.
    """

    term: Term
    offered: float
    root: float | None = None
    low: float | None = None
    high: float | None = None
    difference: float | None = None
    difference_se: float | None = None
    until_day: int | None = None


def break_even(pool: Pool, term: OneTerm) -> tuple[BreakEven, Pool]:
    """Up to which dough cost or share of fussy shoppers, or from which price or demand factor on
    the switch still pays.

    Under any one plan what the switch brings is a straight line of dough cost and price, so that
    under the best of several it is their upper hull, whose root `brentq` finds. For each demand
    factor futures are drawn anew, with the same draws behind them, and plans made for another one
    are carried over to it; for each share more of the same shoppers are fussy. At the root the
    line is planned anew; the new plan can only lift what the switch brings, and the root is looked
    for again until a new plan lifts it by less than its standard error. Every plan is judged on
    the same futures. The interval has the roots of the 5% and the 95% quantile over the futures.

    Returns
    -------
    tuple of BreakEven and Pool
        The pool with the plans found at the root.
    """
    reach = _looked_at(pool, term)

    def brought(x: float) -> Floats:
        return pool.best(Terms(**{term: x}))  # type: ignore[arg-type]

    def sought() -> float | None:
        return reach.root(lambda x: float(brought(x).mean()))

    root, rerun = sought(), None
    for trial in range(MOST_TRIALS):
        if root is None:
            break
        terms = Terms(**{term: root})  # type: ignore[arg-type]
        if reach.is_share and root == reach.high:
            # it pays there, and a new plan could only say so again
            rerun = pool.best(terms)
            break
        pool, rerun = planned_anew(pool, terms)
        if trial == MOST_TRIALS - 1 or rerun.mean() <= standard_error(rerun):
            break
        root = sought()
    places = (root, *reach.interval(brought))
    return _found(term, _offered(pool, term), places, rerun), pool


def planned_anew(pool: Pool, terms: Terms) -> tuple[Pool, Floats]:
    """The pool with the line planned anew on these terms, and what the switch then brings.

    For as many days as are best under the plans at hand; with other shares of fussy shoppers for
    every number of days, since plans made for shoppers who take older units say little of it.
    """
    lines = [pool.best_sale(terms).line]
    if terms.fussy_pct is not None and pool.fussy is not None:
        who = replace(pool.fussy, pct=terms.fussy_pct)
        lives = {sale.line.shelf_life_days: sale.line for sale in pool.sales}
        lines = [line for line in lives.values() if who.bears_on(line)] or lines
    fresh = [pool.planned(line, terms) for line in lines]
    brought = [pool.bringing(sale, terms) for sale in fresh]
    return pool.with_sales(*fresh), max(brought, key=lambda one: float(one.mean()))


def fussy_break_even(pool: Pool) -> tuple[BreakEven | None, Pool]:
    """The largest share of fussy shoppers at which the switch still pays, as in `break_even`; none
    where the offer keeps no longer than the present line and nobody is said to be fussy.

    The line is first planned for the largest share that is taken to be possible: plans made for
    shoppers who take older units would throw much of what others leave.
    """
    who = pool.fussy
    if who is None:
        return None, pool
    pool, _ = planned_anew(pool, Terms(fussy_pct=pool.most_fussy))
    found, pool = break_even(pool, "fussy_pct")
    return replace(found, until_day=who.until_day), pool


def _looked_at(pool: Pool, term: OneTerm) -> Reach:
    cost, price = pool.offered.dough_cost, pool.offered.price
    return {
        "dough_cost": Reach(0.0, price),
        "price": Reach(min(cost, price), DEAREST * price),
        "demand_factor": FACTORS,
        "fussy_pct": SHARES,
    }[term]


def _offered(pool: Pool, term: OneTerm) -> float:
    named: float = getattr(pool.shoppers if term in Shoppers._fields else pool.offered, term)
    return named


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

    def planned(life: int) -> Pool:
        if any(sale.line.shelf_life_days == life for sale in pool.sales):
            return pool
        return pool.with_sales(pool.planned(offered.with_life(life)))

    def best(life: int) -> Floats:
        return pool.best(Terms(shelf_life_days=life))

    def fewest(measure: Callable[[Floats], float]) -> int | None:
        lives = sorted({sale.line.shelf_life_days for sale in pool.sales})
        return next((life for life in lives if measure(best(life)) > 0), None)

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
    rerun = None if fewest_days[0] is None else best(fewest_days[0])
    return _found("extra_days", offered.shelf_life_days - now, (extra, few, many), rerun), pool


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
