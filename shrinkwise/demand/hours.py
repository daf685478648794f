"""At what time of the day a line sold out: how much of a day's demand had come by then."""

from collections.abc import Mapping

import numpy as np
import polars as pl
from numpy.typing import NDArray

from shrinkwise.profile.weekdays import WEEKDAYS
from shrinkwise.records.ledger import LineLedger
from shrinkwise.records.tables import Records

Floats = NDArray[np.float64]

HOURS = 24
STORE_UNITS = 100
"""Units of a line whose hours tell as much of it as those of the whole store."""

LEAST_SHARE = 0.002
"""Of a day's demand that an hour has, at least, in which a unit was sold."""

WHOLE_DAY = (0.0, 1.0)


def last_sale_shares(records: Records, ledgers: Mapping[str, LineLedger]) -> dict[str, Floats]:
    """By line, the shares of a day's demand that come before the hour of its last sale and by the
    end of that hour, shape (n_days, 2); 0 and 1 where the hours are not known.

    The hours of a line are those of its days that were not sold out, as far as the store's do not
    stand in for them; weekends have their own.

    Parameters
    ----------
    records : Records
    ledgers : mapping of str to LineLedger
    """
    units = {name: _by_hour(records, ledger) for name, ledger in ledgers.items()}
    found = {}
    store = np.zeros((2, HOURS))
    own = {}
    for name, ledger in ledgers.items():
        left = ~ledger.sold_out & ledger.is_open
        weekend = ledger.weekday >= len(WEEKDAYS) - 2
        days = [left & ~weekend, left & weekend]
        own[name] = np.stack([np.maximum(units[name][kept], 0).sum(axis=0) for kept in days])
        store += own[name]
    store /= np.maximum(store.sum(axis=1, keepdims=True), 1)
    for name, ledger in ledgers.items():
        hours = own[name] + STORE_UNITS * store
        by_end = hours.cumsum(axis=1) / np.maximum(hours.sum(axis=1, keepdims=True), 1e-9)
        found[name] = _shares(ledger, units[name], by_end)
    return found


def _by_hour(records: Records, ledger: LineLedger) -> NDArray[np.int64]:
    """Units of each day by hour, shape (n_days, HOURS); 0 on days whose hours are not all told."""
    own = records.sales.filter(pl.col("product") == ledger.line.name)
    rows = own.select("date", "hour", "units").drop_nulls()
    found = np.zeros((len(ledger.sold), HOURS), np.int64)
    day = (rows["date"] - ledger.start).dt.total_days().to_numpy()
    inside = (day >= 0) & (day < len(found))
    at = (day[inside], rows["hour"].to_numpy()[inside])
    np.add.at(found, at, rows["units"].to_numpy()[inside])
    found[found.sum(axis=1) != ledger.sold] = 0
    return found


def _shares(ledger: LineLedger, units: NDArray[np.int64], by_end: Floats) -> Floats:
    shares = np.tile(WHOLE_DAY, (len(units), 1))
    told = (units > 0).any(axis=1)
    last = HOURS - 1 - (units[told, ::-1] > 0).argmax(axis=1)
    of_day = by_end[(ledger.weekday[told] >= len(WEEKDAYS) - 2).astype(int)]
    end = of_day[np.arange(len(last)), last]
    begin = np.where(last > 0, of_day[np.arange(len(last)), np.maximum(last - 1, 0)], 0.0)
    shares[told, 1] = np.maximum(end, LEAST_SHARE)
    shares[told, 0] = np.clip(begin, 0.0, shares[told, 1] - LEAST_SHARE)
    return shares
