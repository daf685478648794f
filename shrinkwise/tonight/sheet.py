"""The pull and pan-up sheet: the next bake, line by line, from the stock left at close."""

from dataclasses import dataclass
from datetime import date, timedelta
from math import ceil

import numpy as np
import polars as pl
from numpy.typing import NDArray

from shrinkwise.demand.model import DemandModel
from shrinkwise.planning.plan import BakePlan
from shrinkwise.planning.week import WeekPlan
from shrinkwise.tonight.room import Room, cut_to_room

CAUTIONS = (
    "Never sell past the maker's date code; keep filled lines cold and within seven days of "
    "preparation, or less where the local code says so.",
    "Hot oven, racks and pans: gloves on, doors clear; two people for full racks and heavy cases.",
)
"""Usual caution where the batch is read off; local codes and training come first."""

FURTHEST_DAYS = 14
"""Days ahead beyond which a store that is closed has no next bake on the sheet [days]."""

SCHEMA = {
    "product": pl.String,
    "batch_units": pl.Int64,
    "wanted_units": pl.Int64,
    "pans": pl.Int64,
    "pieces": pl.Int64,
    "on_hand_units": pl.Int64,
    "going_out_units": pl.Int64,
    "target_units": pl.Int64,
    "least_need_units": pl.Int64,
}


@dataclass(frozen=True)
class PanUpSheet:
    """What to pull and pan up this evening.

    Attributes
    ----------
    evening : datetime.date
        The day before the bake date.
    bake_date : datetime.date
        The next day on which the store plans to be open.
    is_open : bool
        Whether there is one for a fortnight; if not, the bake date is the day after the records,
        and nothing is panned up.
    closed : tuple of datetime.date
        Days between the records and the bake date: units that go out of date on them are not on
        hand.
    counted_early : bool
        Whether the evening's shelf was counted before close; what is on its last day is then
        not on hand.
    batches : polars.DataFrame
        product, batch_units, wanted_units (what the plan asks for, of which not all may fit), pans,
        pieces, on_hand_units, going_out_units (of them, expected to go out of date before the next
        bake and not counted on), target_units and least_need_units (both empty where the batch
        depends on the units of each age); lines that are not baked that day are left out.
    room : Room
        What of the batches fits into what all lines share.
    as_before : tuple of str
        Of them, those whose plan is no reason to change the present habit.
    """

    evening: date
    bake_date: date
    is_open: bool
    closed: tuple[date, ...]
    counted_early: bool
    batches: pl.DataFrame
    room: Room
    as_before: tuple[str, ...]

    @property
    def basis(self) -> str:
        """What the stock on the sheet is."""
        counted_on = self.evening - timedelta(days=len(self.closed))
        if self.counted_early:
            later = " What was sold after the count is still in it." if self.closed else ""
            return (
                f"Stock at the count of {counted_on}, from the records, without the units on "
                f"their last day.{later}"
            )
        return f"Stock at close of {counted_on}, from the records."

    @property
    def shown(self) -> pl.DataFrame:
        """The batches for a reader: without the units going out of date where there are none, and
        without what is wanted where all of it fits."""
        shown = self.batches
        if shown["going_out_units"].sum() == 0:
            shown = shown.drop("going_out_units")
        return shown if self.room.overruns else shown.drop("wanted_units")


def pan_up_sheet(plan: BakePlan, demand: DemandModel, week: WeekPlan | None = None) -> PanUpSheet:
    """The next batches under the plan: the target less what is on the shelf, in whole steps and
    within the line's smallest and largest bake; none where less than the least need is missing.
    Where they do not all fit into the oven, the racks or the shift, they are cut. They are for the
    day after the records or, where the store is closed on it, for the next on which it is open.

    Parameters
    ----------
    plan : BakePlan
    demand : DemandModel
        The one from which the plan was made.
    week : WeekPlan, optional
        Where it holds the bake date, its targets go before the standing plan's.
    """
    ahead = [demand.calendar.origin + timedelta(days=1 + day) for day in range(FURTHEST_DAYS)]
    open_days = np.flatnonzero(demand.calendar.is_open(ahead))
    is_open = open_days.size > 0
    n_closed = int(open_days[0]) if is_open else 0
    bake_date, weekday = ahead[n_closed], ahead[n_closed].weekday()
    rows: list[dict[str, object]] = []
    wanted, plans = {}, {one.line.name: one for one in plan.lines}
    for line_plan in plan.lines if is_open else ():
        line = line_plan.line
        rule = line_plan.rule
        if week is not None and bake_date in week.dates:
            of_week = next(one for one in week.lines if one.standing.line.name == line.name)
            rule = of_week.rule(week.dates.index(bake_date), weekday)
        if weekday not in rule.bake_days:
            continue
        by_now = _aged(line_plan.stock_by_age, n_closed)
        on_hand = demand.on_hand(line.name)
        if line.name in demand.today or n_closed:
            on_hand = int(by_now.sum())
        by_table = rule.batch_table is not None
        by_age = rule.counts == "units by age"
        stock = by_now if by_age else (0, on_hand)
        wanted[line.name] = rule.batch(weekday, stock, line)
        rows.append(
            {
                "product": line.name,
                "on_hand_units": on_hand,
                "going_out_units": rule.going_out(weekday, stock),
                "target_units": None if by_table else int(rule.targets[weekday]),
                "least_need_units": None if by_table else rule.least_need,
            }
        )
    room = cut_to_room(wanted, plans, plan.store, weekday)
    for row, (name, batch) in zip(rows, room.units.items(), strict=True):
        line = plans[name].line
        row |= {
            "batch_units": batch,
            "wanted_units": wanted[name],
            "pans": ceil(batch / line.units_per_pan),
            "pieces": batch * line.pieces_per_unit,
        }
    return PanUpSheet(
        evening=bake_date - timedelta(days=1),
        bake_date=bake_date,
        is_open=is_open,
        closed=tuple(ahead[:n_closed]),
        counted_early=bool(demand.today),
        batches=pl.DataFrame(rows, schema=SCHEMA),
        room=room,
        as_before=tuple(name for name in wanted if plans[name].keeps_habit),
    )


def _aged(stock_by_age: NDArray[np.int16], days: int) -> NDArray[np.int16]:
    """Units by age after so many mornings more, of which nobody bought any: on a closed day too,
    those on their last day are disposed of."""
    aged = np.zeros_like(stock_by_age)
    aged[days:] = stock_by_age[: max(len(stock_by_age) - days, 0)]
    return aged
