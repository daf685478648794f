"""The stated truth of the sample store: its calendar, its lines and the demand they make."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache
from math import cos, exp, log, pi, sin

import holidays
import numpy as np
from numpy.typing import NDArray

from shrinkwise.sample.bread_lines import BREAD_LINES
from shrinkwise.sample.line_truth import LineTruth
from shrinkwise.sample.sweet_lines import SWEET_LINES

DAYS_PER_YEAR = 365.25


@dataclass(frozen=True)
class StoreTruth:
    """The sample store: lines, calendar, and what befalls all lines alike.

    Attributes
    ----------
    name, currency, country : str
    start, end : date
        First and last day of the logs.
    lines : tuple of LineTruth
    holiday_factor, eve_factor, local_event_factor : float
        Demand on a public holiday, on the day before one and on a local event, as a multiple
        of what it would be otherwise.
    local_events, sudden_closures : tuple of date
        Days known to the store from its events table; nobody foresaw the closures.
    damage_rate : float
        Share of the units on the shelf that is damaged in a morning.
    donated_share : float
        Share of the out-of-date disposals that is given away.
    """

    name: str
    currency: str
    country: str
    start: date
    end: date
    lines: tuple[LineTruth, ...]
    holiday_factor: float
    eve_factor: float
    local_event_factor: float
    local_events: tuple[date, ...]
    sudden_closures: tuple[date, ...]
    damage_rate: float
    donated_share: float

    @property
    def days(self) -> tuple[date, ...]:
        """Every day of the logs."""
        return day_range(self.start, (self.end - self.start).days + 1)

    def line(self, name: str) -> LineTruth:
        """The line called `name`.

        Raises
        ------
        KeyError
            When the store has no such line.
        """
        for line in self.lines:
            if line.name == name:
                return line
        raise KeyError(name)

    def plans_to_open(self, day: date) -> bool:
        """Whether the store means to open on `day`: always but Thanksgiving and 25 December."""
        thanksgiving = day.month == 11 and day.weekday() == 3 and 22 <= day.day <= 28
        return not thanksgiving and (day.month, day.day) != (12, 25)

    def is_open(self, day: date) -> bool:
        """Whether the store does open on `day`."""
        return self.plans_to_open(day) and day not in self.sudden_closures

    def calendar_effect(self, day: date) -> float:
        """Log of what holidays and local events make of the demand on `day`."""
        tomorrow = day + timedelta(days=1)
        effect = 0.0
        if day in _public_holidays(self.country, day.year):
            effect += log(self.holiday_factor)
        if tomorrow in _public_holidays(self.country, tomorrow.year):
            effect += log(self.eve_factor)
        if day in self.local_events:
            effect += log(self.local_event_factor)
        return effect


TRUTH = StoreTruth(
    name="Sample store (invented)",
    currency="USD",
    country="US",
    start=date(2024, 10, 7),
    end=date(2026, 10, 4),
    lines=BREAD_LINES + SWEET_LINES,
    holiday_factor=0.85,
    eve_factor=1.25,
    local_event_factor=1.3,
    local_events=(date(2025, 8, 16), date(2026, 6, 13)),
    sudden_closures=(date(2026, 1, 26),),
    damage_rate=0.001,
    donated_share=0.2,
)


def day_range(start: date, n_days: int) -> tuple[date, ...]:
    """`n_days` days from `start` on."""
    return tuple(start + timedelta(days=i) for i in range(n_days))


def mean_demand(
    line: LineTruth, days: Sequence[date], store: StoreTruth = TRUTH
) -> NDArray[np.float64]:
    """Units that shoppers want of a line on average [units per day].

    Any day may be asked for, also after the end of the logs: then at the present price, with
    the promotions and closed days that are already planned.

    Parameters
    ----------
    line : LineTruth
    days : sequence of date
    store : StoreTruth

    Returns
    -------
    array of float, shape (n_days,)
        Zero while the store is closed and before the line is introduced.
    """
    return np.array(
        [
            exp(_usual_log(line, day, store) + _special_log(line, day, store))
            if store.is_open(day) and _is_sold(line, day)
            else 0.0
            for day in days
        ]
    )


def expected_by_baker(
    line: LineTruth, days: Sequence[date], store: StoreTruth = TRUTH
) -> NDArray[np.float64]:
    """Demand as the store's baker pictures it [units per day]: weekday, season, trend and price
    are known by heart, special days only by the habit's foresight, sudden closures not at all.

    Parameters
    ----------
    line : LineTruth
    days : sequence of date
    store : StoreTruth

    Returns
    -------
    array of float, shape (n_days,)
    """
    foresight = line.habit.foresight
    return np.array(
        [
            exp(_usual_log(line, day, store) + foresight * _special_log(line, day, store))
            if store.plans_to_open(day) and _is_sold(line, day)
            else 0.0
            for day in days
        ]
    )


def demand_paths(
    line: LineTruth,
    start: date,
    n_days: int,
    n_paths: int,
    rng: np.random.Generator,
    store: StoreTruth = TRUTH,
) -> NDArray[np.int64]:
    """Draws of the daily demand: negative binomial round the true mean.

    Parameters
    ----------
    line : LineTruth
    start : date
        First day.
    n_days, n_paths : int
    rng : numpy.random.Generator
    store : StoreTruth

    Returns
    -------
    array of int, shape (n_days, n_paths)
        [units per day].
    """
    mean = mean_demand(line, day_range(start, n_days), store)[:, None]
    alpha = line.dispersion
    if alpha > 0:
        mean = rng.gamma(1 / alpha, alpha * mean, size=(n_days, n_paths))
    return rng.poisson(mean, size=(n_days, n_paths))


@cache
def _public_holidays(country: str, year: int) -> frozenset[date]:
    return frozenset(holidays.country_holidays(country, years=year))


def _is_sold(line: LineTruth, day: date) -> bool:
    return line.first_day is None or day >= line.first_day


def _usual_log(line: LineTruth, day: date, store: StoreTruth) -> float:
    """Log of the mean of an ordinary day: level, weekday, trend, season and usual price."""
    years = (day - store.start).days / DAYS_PER_YEAR
    angle = 2 * pi * day.timetuple().tm_yday / DAYS_PER_YEAR
    cos1, sin1, cos2, sin2 = line.season
    return (
        log(line.mean_units)
        + log(line.weekday_shape[day.weekday()])
        + line.trend_per_year * years
        + cos1 * cos(angle)
        + sin1 * sin(angle)
        + cos2 * cos(2 * angle)
        + sin2 * sin(2 * angle)
        + line.price_elasticity * log(line.usual_price(day) / line.base_price)
    )


def _special_log(line: LineTruth, day: date, store: StoreTruth) -> float:
    """Log of what a special day adds: holiday, day before, local event and promotion."""
    promotion = line.price_elasticity * log(line.price(day) / line.usual_price(day))
    return store.calendar_effect(day) + promotion
