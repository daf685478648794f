"""What must be true for a switch to pay: each assumption moved over its range, one at a time."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shrinkwise.engine.streams import OLDEST
from shrinkwise.scenarios.combinations import Ends
from shrinkwise.scenarios.pool import Pool
from shrinkwise.scenarios.terms import Terms

Floats = NDArray[np.float64]

COST_RANGE = 0.05
"""Dough cost: so much less and more than offered."""

FACTOR_DEVIATIONS, LEAST_FACTOR_RANGE = 2.0, 0.05
"""Demand factor: so many standard deviations either way, or this where none is stated."""

LABOUR_RANGES = {"wage_per_hour": (0.8, 1.2), "minutes_per_bake": (0.5, 1.5)}
"""Labour: between these times what the store says, for the present line as for the offer."""

DISPOSAL_RANGE = (0.0, 3.0)
"""Disposal cost: between these times what the store says, for both lines."""

FIFTHS = 5
"""What the records leave open: the lowest fifth of the futures, and the highest."""


@dataclass(frozen=True)
class Swing:
    """What the switch brings when one assumption is at the ends of its range.

    Attributes
    ----------
    assumption : str
    low, high : float
        Ends of the range.
    at_low, at_high : float
        What the switch brings there, the one-off cost spread over a year [money per week].
    """

    assumption: str
    low: float
    high: float
    at_low: float
    at_high: float

    @property
    def width(self) -> float:
        """How far the answer moves [money per week]."""
        return abs(self.at_high - self.at_low)

    def turns(self, offered: float) -> bool:
        """Whether the answer has another sign at an end of the range than as offered."""
        return any((end > 0) != (offered > 0) for end in (self.at_low, self.at_high))


def swings(pool: Pool) -> list[Swing]:
    """Every assumption over its range, the one that moves the answer furthest first.

    The price is none of them, being the store's own to set. What the switch brings is that of
    the best of the plans that were found for the offer, against today's line under its own. The
    level of demand and the oldest-first share are those of the futures: the records leave them
    open.
    """
    moved = [swing(pool, name, ends) for name, ends in ranges(pool).items()]
    return sorted([*moved, *_futures(pool)], key=lambda one: -one.width)


def swing(pool: Pool, name: str, ends: Ends) -> Swing:
    """One of the terms over a range."""
    brought = [pool.best(Terms(**{name: end})) for end in ends]  # type: ignore[arg-type]
    return _swing(name, ends, brought)


def ranges(pool: Pool) -> dict[str, Ends]:
    """The ends of every term that is an assumption.

    Wage and set-up are only where the labour stays the store's own: where the switch changes it,
    the other lines would move too.
    """
    offered, labour = pool.offered, pool.store.labour
    cost, mean = offered.dough_cost, pool.shoppers.demand_factor
    found: dict[str, Ends] = {
        "dough_cost": (round(cost * (1 - COST_RANGE), 4), round(cost * (1 + COST_RANGE), 4))
    }
    if pool.footing.source is not None:
        sd = 0.0 if pool.factor is None else pool.factor.sd
        reach = max(FACTOR_DEVIATIONS * sd, LEAST_FACTOR_RANGE)
        found["demand_factor"] = round(max(mean - reach, 0.05), 4), round(mean + reach, 4)
    if pool.fussy is not None:
        found["fussy_pct"] = 0.0, pool.most_fussy
    life = offered.shelf_life_days
    if any(sale.line.shelf_life_days < life for sale in pool.sales):
        found["shelf_life_days"] = life - 1, life
    if labour == pool.footing.store.labour:
        for name, (low, high) in LABOUR_RANGES.items():
            said: float = getattr(labour, name)
            if said > 0:
                found[name] = said * low, said * high
    if offered.disposal_cost > 0:
        low, high = DISPOSAL_RANGE
        found["disposal_cost"] = offered.disposal_cost * low, offered.disposal_cost * high
    return found


def _futures(pool: Pool) -> Iterator[Swing]:
    judge = pool.footing.futures[pool.offered.name].judge
    brought, total = pool.best(), judge.wanted.sum(axis=0)
    # futures without any demand have no share
    shares = judge.streams[OLDEST].sum(axis=0, dtype=np.int64) / np.maximum(total, 1)
    level = total / (len(judge.days.weekday) / 7)
    for name, values in (("demand_units_week", level), ("oldest_first_share", shares)):
        order = np.argsort(values, kind="stable")
        ends = order[: len(order) // FIFTHS], order[-(len(order) // FIFTHS) :]
        places = [float(values[end].mean()) for end in ends]
        yield _swing(name, places, [brought[end] for end in ends])


def _swing(name: str, ends: Sequence[float], brought: Sequence[Floats]) -> Swing:
    low, high = (float(end) for end in ends)
    at_low, at_high = (float(one.mean()) for one in brought)
    return Swing(name, low, high, at_low, at_high)
