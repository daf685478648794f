"""Batches of one day cut to what the oven, the proofer, the racks and the shift have room for."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from shrinkwise.planning.day_use import DayUse, Overrun, batch_use, overruns_of
from shrinkwise.planning.line_plan import LinePlan
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Labour, Store


@dataclass(frozen=True)
class Room:
    """What fits.

    Attributes
    ----------
    units : dict of str to int
        The batch of each line [units].
    overruns : tuple of Overrun
        Of the batches that were wanted; none where all of them fit.
    cost : float
        What the cuts are expected to cost [money].
    """

    units: dict[str, int]
    overruns: tuple[Overrun, ...]
    cost: float


def cut_to_room(
    wanted: Mapping[str, int], plans: Mapping[str, LinePlan], store: Store, weekday: int
) -> Room:
    """Cut batches until all of them fit, each time by a pan or by a whole bake, whichever costs
    least for what it sets free, and give back what there is room for in the end.

    A smaller batch costs what a lower target of that weekday would (`planning.curve`).

    Parameters
    ----------
    wanted : mapping of str to int
        By line [units].
    plans : mapping of str to LinePlan
        Of these lines.
    store : Store
    weekday : int
        Of the bake, Monday 0.
    """
    units, labour = dict(wanted), store.labour
    limits = () if store.capacity is None else store.capacity.limits

    def cost(name: str, batch: int) -> float:
        return _extra(plans[name], weekday, wanted[name] - batch)

    def per_share(cut: tuple[str, int]) -> float:
        name, less = cut
        line, batch = plans[name].line, units[name]
        freed = _freed(found, line, labour, batch, less)
        return (cost(name, less) - cost(name, batch)) / freed if freed > 0 else np.inf

    overruns = found = overruns_of(limits, _use(units, plans, labour), weekday)
    while found and any(units.values()):
        cuts = [
            (name, less)
            for name, batch in units.items()
            if batch > 0
            for less in dict.fromkeys((_a_pan_less(plans[name].line, batch), 0))
        ]
        name, less = min(cuts, key=per_share)
        units[name] = less
        found = overruns_of(limits, _use(units, plans, labour), weekday)
    # a whole bake may have set free more than was wanted: what was cut dearest comes back first
    for name in sorted(units, key=lambda name: -cost(name, units[name])):
        batch = wanted[name]
        while batch > units[name]:
            if not overruns_of(limits, _use(units | {name: batch}, plans, labour), weekday):
                units[name] = batch
            batch = _a_pan_less(plans[name].line, batch)
    return Room(units, overruns, sum(cost(name, batch) for name, batch in units.items()))


def _use(units: Mapping[str, int], plans: Mapping[str, LinePlan], labour: Labour) -> DayUse:
    """Of all lines, with the opening of the day."""
    is_open = any(units.values())
    total = DayUse(np.zeros(()), np.array(labour.minutes_per_baking_day / 60 if is_open else 0.0))
    for name, batch in units.items():
        total += batch_use(np.array(batch), plans[name].line, labour)
    return total


def _a_pan_less(line: Line, batch: int) -> int:
    """The largest bake that takes a pan less, in whole steps; none below the smallest one."""
    pans = -(-batch // line.units_per_pan)
    less = (pans - 1) * line.units_per_pan // line.batch_step * line.batch_step
    return less if less >= max(line.least_batch, 1) else 0


def _freed(
    overruns: tuple[Overrun, ...], line: Line, labour: Labour, batch: int, less: int
) -> float:
    """What a smaller batch sets free of the limits that are overrun, each as a share of what is
    there."""
    of_both = batch_use(np.array([batch, less]), line, labour)
    shares = 0.0
    for one in overruns:
        used = getattr(of_both, one.limit.unit)
        shares += float(used[0] - used[1]) / max(one.most, 1.0)
    return shares


def _extra(plan: LinePlan, weekday: int, by: int) -> float:
    """Expected loss of a batch that is so many units smaller [money]."""
    curve = plan.curve
    if weekday not in curve.weekdays:
        # baked for that date alone: all that is left out may be missed
        return plan.line.unit_margin * by
    extra = np.maximum(curve.extra[curve.weekdays.index(weekday)], 0.0)
    slope = (extra[0] - extra[1]) / (curve.moved[1] - curve.moved[0])
    beyond = max(by + int(curve.moved[0]), 0)
    return float(np.interp(-by, curve.moved, extra) + max(slope, 0.0) * beyond)
