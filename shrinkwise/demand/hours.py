"""At what time of the day a line sold out: how much of a day's demand had come by then."""

from collections.abc import Mapping
from dataclasses import dataclass

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


@dataclass(frozen=True)
class LineHours:
    """At what hours a line was sold.

    Attributes
    ----------
    units : array of int, shape (n_days, HOURS)
        0 on days whose hours are not all told.
    weekend : array of bool, shape (n_days,)
    of_store : array of float, shape (2, HOURS)
        What all lines together sell on a day from Monday to Friday, and at a weekend.
    """

    units: NDArray[np.int64]
    weekend: NDArray[np.bool_]
    of_store: Floats

    @property
    def told(self) -> bool:
        """The hours of some days are known."""
        return bool((self.units > 0).any())

    def of(self, ledger: LineLedger) -> Floats:
        """`until` by what the ledger says of sold-out days."""
        return self.until(~ledger.sold_out & ledger.is_open)

    def until(self, left: NDArray[np.bool_]) -> Floats:
        """The shares of a day's demand that come before the hour of its last sale and by the end
        of that hour, shape (n_days, 2); 0 and 1 where the hours are not known.

        The hours of the line are those of the days with something left, as far as the store's do
        not stand in for them.

        Parameters
        ----------
        left : array of bool, shape (n_days,)
            Open days that were not sold out.
        """
        hours = _together(self.units, left, self.weekend) + STORE_UNITS * self.of_store
        by_end = hours.cumsum(axis=1) / np.maximum(hours.sum(axis=1, keepdims=True), 1e-9)
        shares = np.tile(WHOLE_DAY, (len(self.units), 1))
        told = (self.units > 0).any(axis=1)
        last = HOURS - 1 - (self.units[told, ::-1] > 0).argmax(axis=1)
        of_day, each = by_end[self.weekend[told].astype(int)], np.arange(len(last))
        begin = np.where(last > 0, of_day[each, np.maximum(last - 1, 0)], 0.0)
        shares[told, 1] = np.maximum(of_day[each, last], LEAST_SHARE)
        shares[told, 0] = np.clip(begin, 0.0, shares[told, 1] - LEAST_SHARE)
        return shares


def hours_of_sale(records: Records, ledgers: Mapping[str, LineLedger]) -> dict[str, LineHours]:
    """The hours of every line, by name.

    Parameters
    ----------
    records : Records
    ledgers : mapping of str to LineLedger
    """
    units = {name: _by_hour(records, ledger) for name, ledger in ledgers.items()}
    weekend = {name: ledger.weekday >= len(WEEKDAYS) - 2 for name, ledger in ledgers.items()}
    store = np.zeros((2, HOURS))
    for name, ledger in ledgers.items():
        store += _together(units[name], ~ledger.sold_out & ledger.is_open, weekend[name])
    store /= np.maximum(store.sum(axis=1, keepdims=True), 1)
    return {name: LineHours(units[name], weekend[name], store) for name in ledgers}


def last_sale_shares(records: Records, ledgers: Mapping[str, LineLedger]) -> dict[str, Floats]:
    """`LineHours.until` of every line, by what the ledger says of its sold-out days."""
    hours = hours_of_sale(records, ledgers)
    return {name: hours[name].of(ledger) for name, ledger in ledgers.items()}


def _together(
    units: NDArray[np.int64], kept: NDArray[np.bool_], weekend: NDArray[np.bool_]
) -> Floats:
    """Units by hour of the days that are kept, those of weekends apart; shape (2, HOURS)."""
    days = (kept & ~weekend, kept & weekend)
    return np.stack([np.maximum(units[one], 0).sum(axis=0) for one in days]).astype(np.float64)


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
