"""What is known of a day beforehand: weekday, season, holidays, events, whether it is open."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

import holidays
import numpy as np
import polars as pl
from numpy.typing import NDArray

from shrinkwise.profile.store import Store
from shrinkwise.profile.weekdays import WEEKDAYS
from shrinkwise.records.tables import Records

ANNUAL_WAVES = 2
DAYS_PER_YEAR = 365.25
EFFECTS = (
    *WEEKDAYS,
    "trend",
    *(f"{wave}{k + 1}" for k in range(ANNUAL_WAVES) for wave in ("cos", "sin")),
    "holiday",
    "holiday_eve",
    "event",
    "price",
)
"""Columns of the regression, in order."""


@dataclass(frozen=True)
class Calendar:
    """The store's calendar, past and planned.

    Attributes
    ----------
    store : Store
    origin : datetime.date
        Day from which the trend counts; the last day of the records, so that the level is the
        present one.
    holidays : frozenset of datetime.date
        Public holidays and the store's own.
    closed : frozenset of datetime.date
        Days on which the store is shut although its weekday is open.
    events : frozenset of (str or None, datetime.date)
        Line (None: the whole store) and day of local events and of promotions without a price.
    promotions : dict of (str, datetime.date) to float
        Price [money per unit] of a line on a promotion day.
    """

    store: Store
    origin: date
    holidays: frozenset[date]
    closed: frozenset[date]
    events: frozenset[tuple[str | None, date]]
    promotions: dict[tuple[str, date], float]

    def is_open(self, dates: Iterable[date]) -> NDArray[np.bool_]:
        """Whether the store plans to be open, shape (n_days,)."""
        weekdays = set(self.store.open_weekdays)
        return np.array([day.weekday() in weekdays and day not in self.closed for day in dates])

    def effects(
        self, line: str, dates: list[date], log_price_ratio: NDArray[np.floating]
    ) -> NDArray[np.float64]:
        """The regression's columns for a line.

        Parameters
        ----------
        line : str
        dates : list of datetime.date
        log_price_ratio : array of float, shape (n_days,)
            Log of the day's price over the present price.

        Returns
        -------
        array of float, shape (n_days, len(EFFECTS))
        """
        weekday = np.array([day.weekday() for day in dates])
        years = np.array([(day - self.origin).days for day in dates]) / DAYS_PER_YEAR
        angle = 2 * np.pi * np.array([day.timetuple().tm_yday for day in dates]) / DAYS_PER_YEAR
        waves = [wave((k + 1) * angle) for k in range(ANNUAL_WAVES) for wave in (np.cos, np.sin)]
        next_days = (day + timedelta(days=1) for day in dates)
        flags = [
            [day in self.holidays for day in dates],
            [day in self.holidays for day in next_days],
            [(None, day) in self.events or (line, day) in self.events for day in dates],
        ]
        columns = [*(weekday == day for day in range(7)), years, *waves, *flags, log_price_ratio]
        return np.column_stack([np.asarray(column, np.float64) for column in columns])

    def planned_price_ratio(self, line: str, dates: list[date]) -> NDArray[np.float64]:
        """Log of the planned price over the present one, shape (n_days,)."""
        price = self.store.line(line).price
        return np.array([np.log(self.promotions.get((line, day), price) / price) for day in dates])


def store_calendar(records: Records) -> Calendar:
    """The calendar that the profile and the events log describe."""
    store, events = records.profile, records.events
    years = range(records.first_date.year, records.last_date.year + 3)
    public = holidays.country_holidays(store.country, subdiv=store.state, years=years)

    def whole_store(kind: str) -> set[date]:
        return set(events.filter(pl.col("product").is_null(), pl.col("kind") == kind)["date"])

    promotion = pl.col("kind") == "promotion"
    priced = promotion & pl.col("unit_price").is_not_null() & pl.col("product").is_not_null()
    unpriced = (pl.col("kind") == "local event") | (promotion & ~priced)
    return Calendar(
        store=store,
        origin=records.last_date,
        holidays=frozenset(public) | whole_store("holiday"),
        closed=frozenset(whole_store("closed")),
        events=frozenset(events.filter(unpriced).select("product", "date").iter_rows()),
        promotions={
            (product, day): price
            for product, day, price in events.filter(priced, pl.col("unit_price") > 0)
            .select("product", "date", "unit_price")
            .iter_rows()
        },
    )
