"""An offer looked at from all sides: break-evens, what must be true, and a map of offers."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.optimize import brentq

from shrinkwise.progress import Progress, no_progress, on_all_cores
from shrinkwise.scenarios.break_even import (
    BreakEven,
    days_break_even,
    factor_break_even,
    money_break_even,
)
from shrinkwise.scenarios.common import COMMON, CommonOffer, CommonStudy
from shrinkwise.scenarios.compare import Comparison
from shrinkwise.scenarios.pool import Pool
from shrinkwise.scenarios.sensitivity import Swing, swings

MAP_STEPS = 21
"""Extra costs on the map."""


@dataclass(frozen=True)
class MapColumn:
    """What a switch brings at one number of extra days.

    Attributes
    ----------
    extra_days : int
        Against the present shelf life [days].
    extra_cost : tuple of float
        Against the present dough cost [money per unit].
    brings : tuple of float
        At each of them [money per week].
    zero : float or None
        The extra cost at which the switch brings nothing; None outside the map.
    """

    extra_days: int
    extra_cost: tuple[float, ...]
    brings: tuple[float, ...]
    zero: float | None


@dataclass(frozen=True)
class SwitchStudy:
    """An offer of one line, looked at from all sides.

    Attributes
    ----------
    offer : Pool
    break_evens : tuple of BreakEven
        Dough cost, price, demand factor, extra days.
    swings : tuple of Swing
        What must be true, the assumption that moves the answer furthest first.
    map : tuple of MapColumn
        By extra days, all else as offered.
    """

    offer: Pool
    break_evens: tuple[BreakEven, ...]
    swings: tuple[Swing, ...]
    map: tuple[MapColumn, ...]


Study = SwitchStudy | CommonStudy
"""Of one line, or of several that change."""

ONE_LINE: tuple[Callable[[Pool], Any], ...] = (
    days_break_even,
    lambda pool: money_break_even(pool, "dough_cost"),
    lambda pool: money_break_even(pool, "price"),
    factor_break_even,
)
"""Parts of the study of one line."""


def study_switches(comparison: Comparison, progress: Progress = no_progress) -> list[Study | None]:
    """Study every scenario of a comparison.

    Parameters
    ----------
    comparison : Comparison
    progress : callable, optional
        Called four times for each scenario.

    Returns
    -------
    list of SwitchStudy, CommonStudy or None
        None where no line of a scenario changes, or where limits on what lines share hold a
        changed line back.
    """
    offers: list[Pool | CommonOffer | None] = [
        Pool.of(comparison, index) or CommonOffer.of(comparison, index)
        for index in range(len(comparison.scenarios))
    ]

    def looked_at(item: tuple[Any, Callable[[Any], Any]]) -> Any:
        offer, part = item
        return None if offer is None else part(offer)

    work = [
        (offer, part)
        for offer in offers
        for part in (COMMON if isinstance(offer, CommonOffer) else ONE_LINE)
    ]
    found = on_all_cores(looked_at, work, progress)
    studies: list[Study | None] = []
    for index, offer in enumerate(offers):
        parts = found[len(ONE_LINE) * index : len(ONE_LINE) * (index + 1)]
        if offer is None:
            studies.append(None)
        elif isinstance(offer, CommonOffer):
            names = tuple(pool.offered.name for pool in offer.pools)
            studies.append(CommonStudy(names, tuple(one for one in parts if one is not None)))
        else:
            studies.append(_study(offer, *parts))
    return studies


def _study(
    pool: Pool,
    days: tuple[BreakEven, Pool],
    cost: tuple[BreakEven, Pool],
    price: tuple[BreakEven, Pool],
    factor: BreakEven,
) -> SwitchStudy:
    fresh = [sale for _, seen in (days, cost, price) for sale in seen.sales[len(pool.sales) :]]
    pool = pool.with_sales(*fresh)
    return SwitchStudy(
        offer=pool,
        break_evens=(cost[0], price[0], factor, days[0]),
        swings=tuple(swings(pool.upto(pool.offered.shelf_life_days))),
        map=_map(pool),
    )


def _map(pool: Pool) -> tuple[MapColumn, ...]:
    """Every life that was planned, against extra costs around the offer and the zero line from
    the offered life on."""
    now, offered = pool.present, pool.offered
    lives = sorted({sale.line.shelf_life_days for sale in pool.sales})

    def brings(seen: Pool, cost: float) -> float:
        return float(seen.best(dough_cost=now.dough_cost + cost).mean())

    zeros = {}
    for life in lives:
        seen = pool.upto(life)
        ends = (-now.dough_cost, now.price)
        crosses = brings(seen, ends[0]) * brings(seen, ends[1]) < 0
        zeros[life] = (
            float(brentq(lambda cost, seen=seen: brings(seen, cost), *ends, xtol=1e-6))
            if crosses
            else None
        )
    offer = offered.dough_cost - now.dough_cost
    far = [zero for life, zero in zeros.items() if life >= offered.shelf_life_days]
    marks = [0.0, offer, *(zero for zero in far if zero is not None)]
    spare = max(0.25 * (max(marks) - min(marks)), 0.05 * now.dough_cost)
    low = max(min(marks) - spare, -now.dough_cost)
    costs = [round(float(cost), 4) for cost in np.linspace(low, max(marks) + spare, MAP_STEPS)]
    return tuple(
        MapColumn(
            extra_days=life - now.shelf_life_days,
            extra_cost=tuple(costs),
            brings=tuple(brings(pool.upto(life), cost) for cost in costs),
            zero=zeros[life],
        )
        for life in lives
    )
