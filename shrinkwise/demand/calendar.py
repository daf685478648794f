"""What is known of a day beforehand: weekday, season, holidays, events, whether it is open."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

import holidays
import numpy as np
import polars as pl
from numpy.typing import NDArray

from shrinkwise.demand.effects import DAYS_PER_YEAR, WAVES, WEEKEND, Effect, effects_of, level_steps
from shrinkwise.demand.special_days import special_days
from shrinkwise.profile.store import Store
from shrinkwise.records.ledger import LineLedger
from shrinkwise.records.tables import Records

Floats = NDArray[np.float64]

SATURDAY, SUNDAY = WEEKEND
SUMMER = (7, 8, 9)
"""Months of the long school holidays."""

_SHAPE_DAYS = 728
_FEWEST_SUNDAYS = 8
_DAY = timedelta(days=1)


@dataclass(frozen=True)
class Calendar:
    """The store's calendar, past and planned.

    Attributes
    ----------
    store : Store
    origin : datetime.date
        Day from which the trend and the steps of the level count; the last day of the records,
        so that the level is the present one.
    holidays : frozenset of datetime.date
        Public holidays and the store's own.
    special : dict of str to frozenset of datetime.date
        Days with an effect of their own, by name.
    closed : frozenset of datetime.date
        Days on which the store plans to be shut although its weekday is open.
    shut : frozenset of datetime.date
        Those, and past days on which nothing was sold.
    school : frozenset of datetime.date
        School holidays.
    events : frozenset of (str or None, datetime.date)
        Line (None: the whole store) and day of local events.
    promoted : frozenset of (str or None, datetime.date)
        Line (None: the whole store) and day of promotions, priced or not.
    promotions : dict of (str, datetime.date) to float
        Price [money per unit] of a line on a promotion day.
    sunday_step : dict of str to array of float, shape (7,)
        By line: log of its usual sales on a Sunday over those of each weekday; a line that is
        missing has no Sundays.
    """

    store: Store
    origin: date
    holidays: frozenset[date]
    special: dict[str, frozenset[date]]
    closed: frozenset[date]
    shut: frozenset[date]
    school: frozenset[date]
    events: frozenset[tuple[str | None, date]]
    promoted: frozenset[tuple[str | None, date]]
    promotions: dict[tuple[str, date], float]
    sunday_step: dict[str, Floats]

    @property
    def layout(self) -> tuple[Effect, ...]:
        """What the columns of `effects` stand for."""
        return effects_of(self.special)

    def is_open(self, dates: Iterable[date]) -> NDArray[np.bool_]:
        """Whether the store plans to be open, shape (n_days,)."""
        weekdays = set(self.store.open_weekdays)
        return np.array([day.weekday() in weekdays and day not in self.closed for day in dates])

    def effects(
        self, line: str, dates: list[date], log_price_ratio: NDArray[np.floating]
    ) -> Floats:
        """The regression's columns for a line.

        Parameters
        ----------
        line : str
        dates : list of datetime.date
        log_price_ratio : array of float, shape (n_days,)
            Log of the day's price over the present price.

        Returns
        -------
        array of float, shape (n_days, n_effects)
            In the order of `layout`; the steps of the level stand last.
        """
        weekday = np.array([day.weekday() for day in dates])
        since = np.array([(day - self.origin).days for day in dates])
        angle = 2 * np.pi * np.array([day.timetuple().tm_yday for day in dates]) / DAYS_PER_YEAR
        school = self._among(self.school, dates)
        columns = [
            *(weekday == day for day in range(7)),
            since / DAYS_PER_YEAR,
            *(wave(k * angle) for k in range(1, WAVES + 1) for wave in (np.cos, np.sin)),
            *((weekday == day) * wave(angle) for day in WEEKEND for wave in (np.cos, np.sin)),
            *self._round_holidays(line, dates, weekday),
            *self._round_closures(dates),
            *(self._among(days, dates) for days in self.special.values()),
            school,
            *(school & (weekday == day) for day in (0, *WEEKEND)),
            school & np.array([day.month in SUMMER for day in dates]),
            [(None, day) in self.events or (line, day) in self.events for day in dates],
            *self._promoted(line, dates),
            log_price_ratio,
            *level_steps(-since).T,
        ]
        return np.column_stack([np.asarray(column, np.float64) for column in columns])

    def planned_price_ratio(self, line: str, dates: list[date]) -> Floats:
        """Log of the planned price over the present one, shape (n_days,)."""
        price = self.store.line(line).price
        return np.array([np.log(self.promotions.get((line, day), price) / price) for day in dates])

    @staticmethod
    def _among(days: frozenset[date], dates: list[date]) -> NDArray[np.bool_]:
        return np.array([day in days for day in dates])

    def _round_holidays(
        self, line: str, dates: list[date], weekday: NDArray[np.int64]
    ) -> list[NDArray[np.generic]]:
        """On, before, after and between holidays, as `effects_of` names them."""
        on = self._among(self.holidays, dates)
        before = self._among(self.holidays, [day + _DAY for day in dates]) & ~on
        after = self._among(self.holidays, [day - _DAY for day in dates]) & ~on
        as_sunday = on * self.sunday_step.get(line, np.zeros(7))[weekday]
        bridge = (after & (weekday == 4)) | (before & (weekday == 0))
        weekend = np.isin(weekday, WEEKEND)
        return [
            *(on, as_sunday, on & (weekday == SUNDAY)),
            *(before, before & (weekday == SATURDAY)),
            *(after, after & weekend, bridge),
        ]

    def _round_closures(self, dates: list[date]) -> list[list[bool]]:
        """Next day shut, last day shut, next two, last two; weekly closing days only in pairs."""
        weekdays = set(self.store.open_weekdays)

        def shut(day: date) -> bool:
            return day in self.shut or day.weekday() not in weekdays

        return [
            [day + _DAY in self.shut for day in dates],
            [day - _DAY in self.shut for day in dates],
            [shut(day + _DAY) and shut(day + 2 * _DAY) for day in dates],
            [shut(day - _DAY) and shut(day - 2 * _DAY) for day in dates],
        ]

    def _promoted(self, line: str, dates: list[date]) -> list[list[bool]]:
        """The line is promoted; another line is and this one is not."""
        own = [(None, day) in self.promoted or (line, day) in self.promoted for day in dates]
        some = {day for _, day in self.promoted}
        return [own, [day in some and not one for day, one in zip(dates, own, strict=True)]]


def store_calendar(records: Records, ledgers: Mapping[str, LineLedger]) -> Calendar:
    """The calendar that the profile, the events log and the days of the ledgers describe.

    Parameters
    ----------
    records : Records
    ledgers : mapping of str to LineLedger
        Of the same records.
    """
    store, events = records.profile, records.events
    years = range(records.first_date.year - 1, records.last_date.year + 3)
    public = holidays.country_holidays(store.country, subdiv=store.state, years=years)

    def whole_store(kind: str) -> frozenset[date]:
        return frozenset(events.filter(pl.col("product").is_null(), pl.col("kind") == kind)["date"])

    def by_line(kind: str) -> frozenset[tuple[str | None, date]]:
        of_kind = events.filter(pl.col("kind") == kind)
        return frozenset(of_kind.select("product", "date").iter_rows())

    priced = events.filter(
        pl.col("kind") == "promotion", pl.col("product").is_not_null(), pl.col("unit_price") > 0
    )
    closed = records.closed_dates
    every_holiday = frozenset(public) | whole_store("holiday")
    return Calendar(
        store=store,
        origin=records.last_date,
        holidays=every_holiday,
        special=special_days(public, years),
        closed=closed,
        shut=closed | _days_without_sales(store, ledgers),
        school=whole_store("school holiday"),
        events=by_line("local event"),
        promoted=by_line("promotion"),
        promotions={
            (product, day): price
            for product, day, price in priced.select("product", "date", "unit_price").iter_rows()
        },
        sunday_step={
            name: step
            for name, ledger in ledgers.items()
            if (step := sunday_step(ledger.sold, ledger.is_open, ledger.dates, every_holiday))
            is not None
        },
    )


def _days_without_sales(store: Store, ledgers: Mapping[str, LineLedger]) -> frozenset[date]:
    weekdays = set(store.open_weekdays)
    longest = max(ledgers.values(), key=lambda ledger: len(ledger.sold), default=None)
    if longest is None:
        return frozenset()
    days = zip(longest.dates, longest.is_open, strict=True)
    return frozenset(day for day, is_open in days if not is_open and day.weekday() in weekdays)


def sunday_step(
    sold: NDArray[np.integer],
    is_open: NDArray[np.bool_],
    dates: list[date],
    holidays: frozenset[date],
) -> Floats | None:
    """Log of the usual sales of a Sunday over those of each weekday, on ordinary days.

    Parameters
    ----------
    sold : array of int, shape (n_days,)
        Units of one line.
    is_open : array of bool, shape (n_days,)
    dates : list of datetime.date
    holidays : frozenset of datetime.date

    Returns
    -------
    array of float, shape (7,), or None
        Over the last two years; 0 for a weekday of which little is known. None where there are
        not enough Sundays.
    """
    recent = slice(-_SHAPE_DAYS, None)
    weekday = np.array([day.weekday() for day in dates[recent]])
    ordinary = is_open[recent] & np.array([day not in holidays for day in dates[recent]])
    usual = np.full(7, np.nan)
    for day in range(7):
        of_day = sold[recent][ordinary & (weekday == day)]
        if len(of_day) >= _FEWEST_SUNDAYS:
            usual[day] = np.log(max(float(of_day.mean()), 0.1))
    return None if np.isnan(usual[SUNDAY]) else np.nan_to_num(usual[SUNDAY] - usual)
