"""The pull and pan-up sheet: tomorrow's bake, line by line, from the stock left at close."""

from dataclasses import dataclass
from datetime import date, timedelta
from math import ceil

import polars as pl

from shrinkwise.demand.model import DemandModel
from shrinkwise.planning.plan import BakePlan

CAUTIONS = (
    "Never sell past the maker's date code; keep filled lines cold and within seven days of "
    "preparation, or less where the local code says so.",
    "Hot oven, racks and pans: gloves on, doors clear; two people for full racks and heavy cases.",
)
"""Usual caution where the batch is read off; local codes and training come first."""

SCHEMA = {
    "product": pl.String,
    "on_hand_units": pl.Int64,
    "going_out_units": pl.Int64,
    "target_units": pl.Int64,
    "least_need_units": pl.Int64,
    "batch_units": pl.Int64,
    "pans": pl.Int64,
    "pieces": pl.Int64,
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
    batches : polars.DataFrame
        product, on_hand_units, going_out_units (of them, expected to go out of date before the
        next bake and not counted on), target_units, least_need_units, batch_units, pans, pieces;
        lines that are not baked that day are left out.
    """

    evening: date
    bake_date: date
    is_open: bool
    batches: pl.DataFrame

    @property
    def shown(self) -> pl.DataFrame:
        """The batches for a reader: without the units going out of date where there are none."""
        none = self.batches["going_out_units"].sum() == 0
        return self.batches.drop("going_out_units") if none else self.batches


def pan_up_sheet(plan: BakePlan, demand: DemandModel) -> PanUpSheet:
    """Tomorrow's batches under the plan: the target less what is on the shelf, in whole steps and
    within the line's smallest and largest bake; none where less than the least need is missing.

    Parameters
    ----------
    plan : BakePlan
    demand : DemandModel
        The one from which the plan was made.
    """
    evening = demand.calendar.origin
    tomorrow = evening + timedelta(days=1)
    is_open = bool(demand.calendar.is_open([tomorrow])[0])
    rows = []
    for line_plan in plan.lines if is_open else ():
        line = line_plan.line
        weekday = tomorrow.weekday()
        if weekday not in line_plan.rule.bake_days:
            continue
        on_hand = demand.on_hand(line.name)
        # the split by age is that of the records' end, as is the total
        by_age = line_plan.rule.counts == "units by age"
        stock = line_plan.stock_by_age if by_age else (0, on_hand)
        batch = line_plan.rule.batch(weekday, stock, line)
        rows.append(
            {
                "product": line.name,
                "on_hand_units": on_hand,
                "going_out_units": line_plan.rule.going_out(weekday, stock),
                "target_units": int(line_plan.rule.targets[weekday]),
                "least_need_units": line_plan.rule.least_need,
                "batch_units": batch,
                "pans": ceil(batch / line.units_per_pan),
                "pieces": batch * line.pieces_per_unit,
            }
        )
    return PanUpSheet(evening, tomorrow, is_open, pl.DataFrame(rows, schema=SCHEMA))
