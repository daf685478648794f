"""How deep the reduction of a line was on each past day, against the present one."""

import numpy as np
import polars as pl
from numpy.typing import NDArray

from shrinkwise.demand.calendar import Calendar
from shrinkwise.demand.prices import past_price_ratio
from shrinkwise.records.ledger import LineLedger
from shrinkwise.records.tables import Records

Floats = NDArray[np.float64]

DEEPEST = 5.0
"""Times the present reduction beyond which a price is taken for a slip of the pen."""


def relative_depth(records: Records, calendar: Calendar, ledger: LineLedger) -> Floats:
    """Reduction of the units that are at the reduced price in the morning, as a share of the full
    price of their day, over that of the present reduction, shape (n_days,).

    Where units of several prices may be there, the mean by the units of the markdown log; 1 where
    it says nothing, or the line is not reduced now.

    Parameters
    ----------
    records : Records
    calendar : Calendar
    ledger : LineLedger
    """
    line, n_days = ledger.line, len(ledger.sold)
    depth = np.ones(n_days)
    if line.reduced_price is None or line.reduce_on_day is None:
        return depth
    day = (pl.col("date") - ledger.start).dt.total_days()
    labelled = records.markdowns.filter(pl.col("product") == line.name).select(
        "units", "unit_price", day=day
    )
    labelled = labelled.filter(pl.col("day").is_between(0, n_days - 1), pl.col("unit_price") > 0)
    if labelled.is_empty():
        return depth
    at, units = labelled["day"].to_numpy(), labelled["units"].to_numpy().astype(np.float64)
    full = line.price * np.exp(past_price_ratio(records, calendar, ledger))[at]
    present = 1 - line.reduced_price / line.price
    of_label = np.clip((1 - labelled["unit_price"].to_numpy() / full) / present, 0.0, DEEPEST)
    # a reduced unit is on the shelf until its last day
    stay = np.ones(line.shelf_life_days - line.reduce_on_day + 1)
    there, deep = (
        np.convolve(np.bincount(at, weights, n_days), stay)[:n_days]
        for weights in (units, units * of_label)
    )
    return np.where(there > 0, deep / np.maximum(there, 1), 1.0)
