"""What the bakes of a day take of what the lines share: pans, and hours for the bake-off."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shrinkwise.engine.simulate import Flows
from shrinkwise.planning.futures import Futures
from shrinkwise.profile.capacity import Limit
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Labour

Floats = NDArray[np.float64]

ROUNDING = 1e-9

BUSY = 0.9
"""Share of days on which no more is used than on a busy day."""


@dataclass(frozen=True, eq=False)
class DayUse:
    """What is used on a day; arrays of any one shape.

    Attributes
    ----------
    pans : array of float
        [pans a day]
    hours : array of float
        For setting up bakes, for pans and for units; without the opening of the day
        [hours a day].
    """

    pans: Floats
    hours: Floats

    def __add__(self, other: "DayUse") -> "DayUse":
        return DayUse(self.pans + other.pans, self.hours + other.hours)

    def of(self, index: NDArray[np.intp] | int) -> "DayUse":
        """Of some along the first axis."""
        return DayUse(self.pans[index], self.hours[index])


@dataclass(frozen=True)
class Overrun:
    """A limit of a day for which too much is wanted.

    Attributes
    ----------
    limit : Limit
    wanted, most : float
        [pans or hours]
    """

    limit: Limit
    wanted: float
    most: float


def overruns_of(limits: Sequence[Limit], use: DayUse, weekday: int) -> tuple[Overrun, ...]:
    """Limits beyond which the use of one day lies.

    Parameters
    ----------
    limits : sequence of Limit
    use : DayUse
        Single figures, with the opening of the day.
    weekday : int
        Monday 0.
    """
    used = [(limit, float(getattr(use, limit.unit))) for limit in limits]
    return tuple(
        Overrun(limit, wanted, limit.most[weekday])
        for limit, wanted in used
        if wanted > limit.most[weekday] + ROUNDING
    )


def daily_use(flows: Flows, line: Line, labour: Labour, futures: Futures) -> DayUse:
    """Of every counted open day and path; arrays of shape (n_plans, n_days, n_paths).

    Parameters
    ----------
    flows : Flows
        With the batch of every day.
    line : Line
    labour : Labour
    futures : Futures
        On which `flows` were played.
    """
    return batch_use(flows.batches[:, counted_open(futures)], line, labour)


def batch_use(batches: NDArray[np.integer], line: Line, labour: Labour) -> DayUse:
    """Of bakes of a line, arrays of the same shape.

    Parameters
    ----------
    batches : array of int
        [units]
    line : Line
    labour : Labour
    """
    pans = -(-batches // np.int16(line.units_per_pan))
    minutes = (
        labour.minutes_per_bake * (batches > 0)
        + labour.minutes_per_pan * pans
        + labour.minutes_per_unit * batches
    )
    return DayUse(pans.astype(np.float64), minutes / 60)


def mean_use(flows: Flows, line: Line, labour: Labour, futures: Futures) -> DayUse:
    """The mean over the counted open days of each weekday and over paths, shape (n_plans, 7).

    Parameters
    ----------
    As `daily_use`.
    """
    chances = _chances(futures)
    pans = _pans_sum(flows, line, futures, power=1) / chances
    minutes = (
        labour.minutes_per_bake * flows.bakes.sum(axis=2) / chances
        + labour.minutes_per_pan * pans
        + labour.minutes_per_unit * flows.baked.sum(axis=2) / chances
    )
    return DayUse(pans, minutes / 60)


def pans_variance(flows: Flows, line: Line, futures: Futures) -> Floats:
    """By weekday, over the counted open days and paths, shape (n_plans, 7) [pans squared].

    Parameters
    ----------
    As `daily_use`.
    """
    first, second = (_pans_sum(flows, line, futures, power) for power in (1, 2))
    chances = _chances(futures)
    return np.maximum(second / chances - (first / chances) ** 2, 0.0)


def _pans_sum(flows: Flows, line: Line, futures: Futures, power: int) -> NDArray[np.int64]:
    counted = counted_open(futures)
    # in whole numbers: a hundred plans at once would be much in floats
    pans = -(-flows.batches[:, counted] // np.int16(line.units_per_pan))
    by_day = (pans if power == 1 else pans.astype(np.int32) ** power).sum(axis=2, dtype=np.int64)
    weekday = futures.days.weekday[counted]
    return np.stack([by_day[:, weekday == day].sum(axis=1) for day in range(7)], axis=1)


def _chances(futures: Futures) -> NDArray[np.int64]:
    weekday = futures.days.weekday[counted_open(futures)]
    return np.maximum(np.bincount(weekday, minlength=7) * futures.n_paths, 1)


def busy(of_days: Floats, futures: Futures) -> Floats:
    """What is used by weekday on a busy day, shape (7,): no more on nine days of ten.

    Parameters
    ----------
    of_days : array of float, shape (n_days, n_paths)
        Of the counted open days, all lines together.
    futures : Futures
    """
    weekday = futures.days.weekday[counted_open(futures)]
    found = np.zeros(7)
    for day in np.unique(weekday):
        found[day] = np.quantile(of_days[weekday == day], BUSY, method="inverted_cdf")
    return found


def counted_open(futures: Futures) -> NDArray[np.intp]:
    """The counted days on which the store is open, as indices."""
    days = futures.days
    open_days = np.flatnonzero(days.is_open)
    return open_days[open_days >= days.first_day]
