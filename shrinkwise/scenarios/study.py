"""An offer looked at from all sides: break-evens, what must be true, and a map of offers."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np

from shrinkwise.progress import Progress, no_progress, on_all_cores
from shrinkwise.scenarios.break_even import (
    BreakEven,
    break_even,
    days_break_even,
    fussy_break_even,
)
from shrinkwise.scenarios.combinations import Combinations, combinations
from shrinkwise.scenarios.common import COMMON, CommonOffer, CommonStudy
from shrinkwise.scenarios.compare import Comparison
from shrinkwise.scenarios.pool import Pool
from shrinkwise.scenarios.reach import Reach
from shrinkwise.scenarios.sensitivity import Swing, ranges, swings
from shrinkwise.scenarios.terms import Terms

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
        Dough cost, price, demand factor, extra days, and the share of fussy shoppers where the
        offer keeps longer than the present line.
    swings : tuple of Swing
        What must be true, the assumption that moves the answer furthest first.
    together : Combinations
        All assumptions that are not the futures' own, in every combination of their ends.
    map : tuple of MapColumn
        By extra days, all else as offered.
    """

    offer: Pool
    break_evens: tuple[BreakEven, ...]
    swings: tuple[Swing, ...]
    together: Combinations
    map: tuple[MapColumn, ...]


Study = SwitchStudy | CommonStudy
"""Of one line, or of several that change."""

ONE_LINE: tuple[Callable[[Pool], Any], ...] = (
    days_break_even,
    lambda pool: break_even(pool, "dough_cost"),
    lambda pool: break_even(pool, "price"),
    lambda pool: break_even(pool, "demand_factor"),
    fussy_break_even,
)
"""Parts of the study of one line."""

PARTS = len(ONE_LINE)
"""Of every study."""


def study_switches(comparison: Comparison, progress: Progress = no_progress) -> list[Study | None]:
    """Study every scenario of a comparison.

    Parameters
    ----------
    comparison : Comparison
    progress : callable, optional
        Called for each scenario as often as it has `PARTS`.

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
        parts = found[PARTS * index : PARTS * (index + 1)]
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
    factor: tuple[BreakEven, Pool],
    fussy: tuple[BreakEven | None, Pool],
) -> SwitchStudy:
    found = (cost, price, factor, days, fussy)
    fresh = [sale for _, seen in found for sale in seen.sales[len(pool.sales) :]]
    pool = pool.with_sales(*fresh)
    return SwitchStudy(
        offer=pool,
        break_evens=tuple(one for one, _ in found if one is not None),
        swings=tuple(swings(pool)),
        together=combinations(pool, ranges(pool)),
        map=_map(pool),
    )


def _map(pool: Pool) -> tuple[MapColumn, ...]:
    """Every life that was planned, against extra costs around the offer and the zero line from
    the offered life on."""
    now, offered = pool.present, pool.offered
    lives = sorted({sale.line.shelf_life_days for sale in pool.sales})

    def brings(life: int, cost: float) -> float:
        terms = Terms(shelf_life_days=life, dough_cost=now.dough_cost + cost)
        return float(pool.best(terms).mean())

    reach = Reach(-now.dough_cost, now.price)
    zeros = {life: reach.root(partial(brings, life)) for life in lives}
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
            brings=tuple(brings(life, cost) for cost in costs),
            zero=zeros[life],
        )
        for life in lives
    )
