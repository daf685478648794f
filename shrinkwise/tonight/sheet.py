"""The pull and pan-up sheet: tomorrow's bake, line by line, from the stock left at close."""

from dataclasses import dataclass
from datetime import date, timedelta
from math import ceil

import polars as pl

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
        The last day of the records: its stock at close is what the sheet counts on.
    bake_date : datetime.date
        The day after.
    is_open : bool
        Whether the store plans to be open on the bake date; if not, nothing is panned up.
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
    counted_early: bool
    batches: pl.DataFrame
    room: Room
    as_before: tuple[str, ...]

    @property
    def basis(self) -> str:
        """What the stock on the sheet is."""
        if self.counted_early:
            return (
                f"Stock at the count of {self.evening}, from the records, without the units on "
                "their last day."
            )
        return f"Stock at close of {self.evening}, from the records."

    @property
    def shown(self) -> pl.DataFrame:
        """The batches for a reader: without the units going out of date where there are none, and
        without what is wanted where all of it fits."""
        shown = self.batches
        if shown["going_out_units"].sum() == 0:
            shown = shown.drop("going_out_units")
        return shown if self.room.overruns else shown.drop("wanted_units")


def pan_up_sheet(plan: BakePlan, demand: DemandModel, week: WeekPlan | None = None) -> PanUpSheet:
    """Tomorrow's batches under the plan: the target less what is on the shelf, in whole steps and
    within the line's smallest and largest bake; none where less than the least need is missing.
    Where they do not all fit into the oven, the racks or the shift, they are cut.

    Parameters
    ----------
    plan : BakePlan
    demand : DemandModel
        The one from which the plan was made.
    week : WeekPlan, optional
        Where it holds tomorrow, its targets go before the standing plan's.
    """
    evening = demand.calendar.origin
    tomorrow = evening + timedelta(days=1)
    is_open = bool(demand.calendar.is_open([tomorrow])[0])
    rows: list[dict[str, object]] = []
    wanted, plans = {}, {one.line.name: one for one in plan.lines}
    for line_plan in plan.lines if is_open else ():
        line = line_plan.line
        weekday = tomorrow.weekday()
        rule = line_plan.rule
        if week is not None and tomorrow in week.dates:
            of_week = next(one for one in week.lines if one.standing.line.name == line.name)
            rule = of_week.rule(week.dates.index(tomorrow), weekday)
        if weekday not in rule.bake_days:
            continue
        on_hand = demand.on_hand(line.name)
        if line.name in demand.today:
            on_hand = int(line_plan.stock_by_age.sum())
        # the split by age is that of the records' end, as is the total
        by_table = rule.batch_table is not None
        by_age = rule.counts == "units by age"
        stock = line_plan.stock_by_age if by_age else (0, on_hand)
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
    room = cut_to_room(wanted, plans, plan.store, tomorrow.weekday())
    for row, (name, batch) in zip(rows, room.units.items(), strict=True):
        line = plans[name].line
        row |= {
            "batch_units": batch,
            "wanted_units": wanted[name],
            "pans": ceil(batch / line.units_per_pan),
            "pieces": batch * line.pieces_per_unit,
        }
    return PanUpSheet(
        evening=evening,
        bake_date=tomorrow,
        is_open=is_open,
        counted_early=bool(demand.today),
        batches=pl.DataFrame(rows, schema=SCHEMA),
        room=room,
        as_before=tuple(name for name in wanted if plans[name].keeps_habit),
    )
