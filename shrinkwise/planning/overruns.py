"""Which limits a plan overruns, in a bakery lead's words."""

from collections.abc import Sequence
from math import ceil

import numpy as np

from shrinkwise.planning.assignment import ROUNDING, Floats
from shrinkwise.profile.capacity import Capacity, Limit
from shrinkwise.profile.weekdays import WEEKDAYS

SAID = 3
"""Overruns that are said, the worst first."""


def overrun_text(capacity: Capacity, slacks: Sequence[Floats]) -> str:
    """That the plan cannot keep within some limits, on which weekdays and by how much.

    Parameters
    ----------
    capacity : Capacity
    slacks : sequence of array of float, shape (7,)
        What is left of each limit by weekday, negative where it is overrun [pans or hours a day].
    """
    limits, left = capacity.limits, np.array(slacks)
    most = np.array([limit.most for limit in limits])
    size = np.where(np.isfinite(most), np.maximum(most, 1.0), 1.0)
    worst = np.argsort(left / size, axis=None, kind="stable")
    places = [divmod(int(place), 7) for place in worst if left.flat[place] < -ROUNDING]
    said = [
        f"{_where(limits[of], day)}, {_amounts(limits[of], day, -float(left[of, day]), capacity)}"
        for of, day in places[:SAID]
    ]
    more = len(places) - len(said)
    also = [f"{more} more like these"] if more else []
    settings = " or ".join(dict.fromkeys(limits[of].setting for of, _ in places))
    return (
        f"With the batches that pay, the plan cannot keep within {'; nor within '.join(said)}"
        f"{''.join(f'; and {one}' for one in also)}. Raise {settings} under [capacity] in "
        "store.toml, or leave a line out."
    )


def _where(limit: Limit, day: int) -> str:
    return f"the {limit.name} on {WEEKDAYS[day].capitalize()}"


def _amounts(limit: Limit, day: int, over: float, capacity: Capacity) -> str:
    """What is used and what there is."""
    most = limit.most[day]
    if limit.unit == "hours":
        hours = ceil(10 * (most + over)) / 10
        return f"where the bake-off takes {hours:g} hours on average and {most:g} are staffed"
    pans = f"where a busy day takes {ceil(most + over - ROUNDING)} pans and"
    if limit.name == "oven":
        each = capacity.pans_per_oven_load
        return f"{pans} {most / limit.one_more:g} loads of {each} pans are {most:g}"
    return f"{pans} there are places for {most:g}"
