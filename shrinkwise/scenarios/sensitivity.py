"""What must be true for a switch to pay: each assumption moved over its range, one at a time."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shrinkwise.engine.streams import OLDEST
from shrinkwise.money.week import money_of
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Labour
from shrinkwise.scenarios.line_case import LineCase
from shrinkwise.scenarios.pool import Pool

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

    The price is none of them, being the store's own to set. Terms are weighed under the best of
    the plans that were found for the offer; labour and the disposal cost under the plans as they
    were compared. The level of demand and the oldest-first share are those of the futures: the
    records leave them open.
    """
    found = [*_terms(pool), *labour_swings(pool), *_disposal(pool), *_futures(pool)]
    return sorted(found, key=lambda swing: -swing.width)


def _terms(pool: Pool) -> Iterator[Swing]:
    cost = pool.offered.dough_cost
    ends = [round(cost * times, 4) for times in (1 - COST_RANGE, 1 + COST_RANGE)]
    yield _swing("dough_cost", ends, [pool.best(dough_cost=end) for end in ends])
    mean, sd = (1.0, 0.0) if pool.factor is None else (pool.factor.mean, pool.factor.sd)
    reach = max(FACTOR_DEVIATIONS * sd, LEAST_FACTOR_RANGE)
    ends = [round(max(mean - reach, 0.05), 4), round(mean + reach, 4)]
    bases = [(mean, pool.best_sale()[0])]
    yield _swing("demand_factor", ends, [pool.at_factor(end, bases) for end in ends])
    life = pool.offered.shelf_life_days
    if life > 1 and pool.upto(life - 1).sales:
        lives = (life - 1, life)
        yield _swing("shelf_life_days", lives, [pool.upto(days).best() for days in lives])


def labour_swings(pool: Pool) -> Iterator[Swing]:
    """Wage and set-up, only where the labour stays the store's own: where the switch changes it,
    the other lines would move too."""
    labour = pool.store.labour
    if labour != pool.footing.store.labour:
        return
    for name, times in LABOUR_RANGES.items():
        said: float = getattr(labour, name)
        if said > 0:
            ends = [said * one for one in times]
            moved = [
                _as_compared(pool, pool.present, pool.offered, _with(labour, name, end))
                for end in ends
            ]
            yield _swing(name, ends, moved)


def _disposal(pool: Pool) -> Iterator[Swing]:
    said = pool.offered.disposal_cost
    if said > 0:
        moved = []
        for times in DISPOSAL_RANGE:
            present, offered = (
                line.model_copy(update={"disposal_cost": times * line.disposal_cost})
                for line in (pool.present, pool.offered)
            )
            moved.append(_as_compared(pool, present, offered, pool.store.labour))
        yield _swing("disposal_cost", [said * times for times in DISPOSAL_RANGE], moved)


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


def _as_compared(pool: Pool, present: Line, offered: Line, labour: Labour) -> Floats:
    """What the switch brings under the plans that were compared, with other money or labour."""
    own = pool.store.labour

    def moved(case: LineCase, after: Line, before: Line) -> Floats:
        quantities = case.outcome.quantities
        opening = pool.opening(case.rule, labour) - pool.opening(case.rule, own)
        results = (
            money_of(quantities, after, labour).result,
            money_of(quantities, before, own).result,
        )
        return np.asarray(results[0] - results[1] - opening)

    switched = moved(pool.case, offered, pool.offered)
    return np.asarray(pool.brings + switched - moved(pool.now, present, pool.present))


def _with(labour: Labour, name: str, value: float) -> Labour:
    return labour.model_copy(update={name: value})


def _swing(name: str, ends: Sequence[float], brought: Sequence[Floats]) -> Swing:
    low, high = (float(end) for end in ends)
    at_low, at_high = (float(one.mean()) for one in brought)
    return Swing(name, low, high, at_low, at_high)
