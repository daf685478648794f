"""What special days, events and promotions did to the demand, against an ordinary day."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date

import numpy as np
import polars as pl
from numpy.typing import NDArray

from shrinkwise.demand.line import LineDays
from shrinkwise.demand.together import WIDTH, LinesTogether, Sums

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

CALENDAR_KINDS = ("holiday", "as sunday", "special day", "half day", "closure")
ROUND_HOLIDAYS = ("holiday", "holiday eve", "day after holiday", "bridge day")
ROUND_CLOSURES = ("day before closing", "day after closing")
PROMOTION_KINDS = ("promotion", "price")

OWN_DAYS, OTHER_LINES = "own days", "other lines only"

SCHEMA = {
    "effect": pl.String,
    "days": pl.Int64,
    "change_pct": pl.Float64,
    "low_pct": pl.Float64,
    "high_pct": pl.Float64,
}


@dataclass(frozen=True)
class DayEffects:
    """What each kind of special day did to the demand of each line.

    Attributes
    ----------
    together : LinesTogether
    names : tuple of str
        Kinds of days that the records hold of at least one line.
    days : array of int, shape (n_kinds, n_lines)
        Days of the records on which each line tells of it.
    on_any : array of int, shape (n_kinds,)
        The same of any line.
    sums : Sums
        Log of what it did to the demand.
    """

    together: LinesTogether
    names: tuple[str, ...]
    days: NDArray[np.int64]
    on_any: NDArray[np.int64]
    sums: Sums

    def of_store(self) -> pl.DataFrame:
        """Percent change of the demand of all lines together, with its 90% interval.

        Lines are weighed by their present demand.

        Returns
        -------
        polars.DataFrame
            effect, days, change_pct, low_pct, high_pct; days are those of the records.
        """
        weights = self.together.demand
        rows = [
            (name, int(self.on_any[at]), *change_pct(*self.sums.of_lines(at, weights)))
            for at, name in enumerate(self.names)
        ]
        return pl.DataFrame(rows, schema=SCHEMA, orient="row")

    def of_lines(self) -> pl.DataFrame:
        """The same line by line.

        Returns
        -------
        polars.DataFrame
            product, then the columns of the store, and rests_on: the line's own days, or other
            lines only.
        """
        rows = []
        for line, product in enumerate(self.together.names):
            alone = np.arange(len(self.together.names)) == line
            for at, name in enumerate(self.names):
                days = int(self.days[at, line])
                changed = change_pct(*self.sums.of_lines(at, alone.astype(np.float64)))
                rows.append((product, name, days, *changed, OWN_DAYS if days else OTHER_LINES))
        schema = {"product": pl.String} | SCHEMA | {"rests_on": pl.String}
        return pl.DataFrame(rows, schema=schema, orient="row")


def change_pct(log_factor: float, sd: float) -> tuple[float, float, float]:
    """Percent change that a log factor stands for, and the ends of its 90% interval."""
    ends = np.array([log_factor, log_factor - WIDTH * sd, log_factor + WIDTH * sd])
    middle, low, high = (float(end) for end in 100 * np.expm1(ends))
    return middle, low, high


def day_effects(together: LinesTogether) -> DayEffects:
    """Measure every kind of special day that the records hold.

    An effect is the mean, over its days in the records, of all that the regression adds to an
    ordinary day of the same weekday for the calendar (holidays, special days and closures are
    one), for school holidays, for local events or for promotions, the lower price included. A
    line that has no such day is held to the days of the others.

    Parameters
    ----------
    together : LinesTogether
    """
    kinds = list(_kinds(together))
    n_lines, n = together.params.shape
    asked = np.zeros((len(kinds), n_lines, n))
    days = np.zeros((len(kinds), n_lines), np.int64)
    # the last day is the same for all lines, the first is not
    on_any = np.zeros((len(kinds), max(len(one.sold) for one in together.days)), np.bool_)
    for line, of_line in enumerate(together.days):
        added = of_line.effects - _usual(together, of_line)
        for at, kind in enumerate(kinds):
            on = of_line.usable & (of_line.effects[:, kind.marks] > 0).any(axis=1)
            days[at, line] = on.sum()
            on_any[at, -len(on) :] |= on
            if on.any():
                asked[at, line, kind.counts] = added[on][:, kind.counts].mean(axis=0)
    for at in range(len(kinds)):
        told = days[at] > 0
        if told.any():
            asked[at, ~told] = asked[at, told].mean(axis=0)
    seen = np.flatnonzero(on_any.any(axis=1))
    return DayEffects(
        together=together,
        names=tuple(kinds[at].name for at in seen),
        days=days[seen],
        on_any=on_any[seen].sum(axis=1),
        sums=together.sums(asked[seen]),
    )


@dataclass(frozen=True)
class _Kind:
    """A kind of days: the columns that mark them, and those that count as what they did."""

    name: str
    marks: list[int]
    counts: Bools


def _kinds(together: LinesTogether) -> Iterator[_Kind]:
    calendar = together.model.calendar

    def kind(marked_by: str, kinds: Iterable[str], name: str | None = None) -> _Kind:
        return _Kind(name or marked_by, [together.column(marked_by)], together.columns(kinds))

    for name in (*ROUND_HOLIDAYS, *ROUND_CLOSURES):
        yield kind(name, CALENDAR_KINDS)
    for name in calendar.special:
        yield kind(name, CALENDAR_KINDS, day_name(name))
    yield kind("school holiday", ("school", "part of school"))
    yield kind("local event", ("event",))
    yield kind("promotion", PROMOTION_KINDS)
    yield kind("promotion of another line", ("other promotion",))


def day_name(name: str) -> str:
    """A special day as people call it: '24 December' for '12-24', others by their own names."""
    month, _, day = name.partition("-")
    if not (month.isdigit() and day.isdigit()):
        return name
    return f"{int(day)} {date(2000, int(month), 1):%B}"


def _usual(together: LinesTogether, days: LineDays) -> Floats:
    """The regression's columns on an ordinary day of the same weekday, at the usual price; the
    level and the season, which no special day has a part in, are left out."""
    usual = np.zeros_like(days.effects)
    weekday = days.weekday
    shut = ~np.isin(np.arange(7), together.model.calendar.store.open_weekdays)
    for name, way in (("before two closed", -1), ("after two closed", 1)):
        weekly = np.roll(shut, way) & np.roll(shut, 2 * way)
        usual[:, together.column(name)] = weekly[weekday]
    price, promotion = together.column("price"), together.column("promotion")
    usual[:, price] = usual_ratio(days.effects[:, price], days.effects[:, promotion] > 0)
    return usual


def usual_ratio(log_ratio: Floats, promoted: Bools) -> Floats:
    """The log price ratio as it was before each promotion began, shape (n_days,).

    Parameters
    ----------
    log_ratio : array of float, shape (n_days,)
        Of each day's price to the present one.
    promoted : array of bool, shape (n_days,)
    """
    if promoted.all():
        return np.zeros_like(log_ratio)
    at = np.where(promoted, -1, np.arange(len(log_ratio)))
    at = np.maximum.accumulate(at)
    # a promotion on the first days: the price after it
    at[at < 0] = int(np.flatnonzero(~promoted)[0])
    return log_ratio[at]
