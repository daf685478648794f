"""Twenty-five German bakery stores with three lines each, 2016 to 2019: open data.

`published/bakery_demand/daily_units.parquet` holds the daily units of the data set that the PyPI
source package ddop 0.7.6 carries (BSD-3-Clause; the licence stands beside it), without its weather.
A day on which a store sold nothing of all three lines is a closed day.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path

import holidays
import numpy as np
import polars as pl
from numpy.typing import NDArray
from threadpoolctl import threadpool_limits

from shrinkwise.demand.calendar import Calendar, sunday_step
from shrinkwise.demand.fitting import fit_together, groupings
from shrinkwise.demand.line import LineDays, LineDemand
from shrinkwise.demand.model import DemandModel
from shrinkwise.demand.paths import DemandPaths
from shrinkwise.demand.scoring import path_quantiles, same_weekday_quantiles
from shrinkwise.demand.special_days import special_days
from shrinkwise.demand.week_ahead import shared_variance
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Store
from shrinkwise.profile.weekdays import WEEKDAYS

DATA = Path(__file__).parent / "published" / "bakery_demand" / "daily_units.parquet"
LAST_MONDAY = date(2019, 4, 22)
"""Of the last whole week."""

N_PATHS = 1000
Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Bakery:
    """A store's days: units and promotions of its lines have shape (n_lines, n_days)."""

    calendar: Calendar
    dates: list[date]
    lines: list[str]
    units: NDArray[np.int64]
    is_open: NDArray[np.bool_]

    def until(self, monday: date) -> tuple[Calendar, int]:
        """The calendar as it stands on the evening before, and the number of days until then."""
        end = (monday - self.dates[0]).days
        steps = {
            name: step
            for name, units in zip(self.lines, self.units, strict=True)
            if (step := self.sunday_step(units, end)) is not None
        }
        origin = monday - timedelta(days=1)
        return replace(self.calendar, origin=origin, sunday_step=steps), end

    def sunday_step(self, units: NDArray[np.int64], end: int) -> Floats | None:
        return sunday_step(
            units[:end], self.is_open[:end], self.dates[:end], self.calendar.holidays
        )

    def days_of(self, line: int, calendar: Calendar, end: int) -> LineDays:
        """A line's days from its first sale on."""
        first = int(np.flatnonzero(self.units[line])[0])
        dates = self.dates[first:end]
        effects = calendar.effects(self.lines[line], dates, np.zeros(len(dates)))
        units, is_open = self.units[line, first:end], self.is_open[first:end]
        return LineDays(
            units, np.zeros(len(units), np.bool_), is_open, effects, np.ones(len(units))
        )


def bakeries(only: int | None = None) -> list[Bakery]:
    """The stores, or the first few of them."""
    table = pl.read_parquet(DATA).sort("store", "product", "date")
    stores = table["store"].unique().sort().to_list()[:only]
    return [_bakery(number, table.filter(pl.col("store") == number)) for number in stores]


def _bakery(number: int, table: pl.DataFrame) -> Bakery:
    names = table["product"].unique().sort().to_list()
    dates = table["date"].unique().sort().to_list()
    shape = (len(names), len(dates))
    units = table["units"].to_numpy().reshape(shape).astype(np.int64)
    promoted = table["promotion"].to_numpy().reshape(shape) > 0
    is_open = units.sum(axis=0) > 0
    weekday = np.array([day.weekday() for day in dates])
    # the days on which it plans to open, by its last year
    lately = np.arange(len(dates)) >= len(dates) - 400
    open_days = [day for day in range(7) if is_open[lately & (weekday == day)].mean() > 0.5]
    planned = np.isin(weekday, open_days)
    years = range(2015, 2021)
    public = holidays.country_holidays("DE", subdiv="BW", years=years)

    def days(flags: NDArray[np.bool_]) -> frozenset[date]:
        return frozenset(day for day, flag in zip(dates, flags, strict=True) if flag)

    def flag(column: str) -> NDArray[np.bool_]:
        return table[column].to_numpy().reshape(shape)[0] > 0

    store = Store(
        name=f"Store {number}", currency="EUR", country="DE", state="BW",
        open_days=tuple(WEEKDAYS[day] for day in open_days),
        lines=tuple(
            Line(name=name, category=name, price=1, dough_cost=0.3, shelf_life_days=1)
            for name in names
        ),
    )  # fmt: skip
    closed = days(~is_open & planned)
    return Bakery(
        calendar=Calendar(
            store=store,
            origin=dates[-1],
            holidays=frozenset(public) | days(flag("holiday")),
            special=special_days(public, years),
            closed=closed,
            shut=closed,
            school=days(flag("school_holiday")),
            events=frozenset(),
            promoted=frozenset(
                (name, day)
                for name, flags in zip(names, promoted, strict=True)
                for day in days(flags)
            ),
            promotions={},
            sunday_step={},
        ),
        dates=dates,
        lines=names,
        units=units,
        is_open=is_open,
    )


def weeks_ahead(stores: list[Bakery], mondays: list[date]) -> Iterator[pl.DataFrame]:
    """Predict each week from the days before it, and say what came of it.

    Calendar, holidays, closures and promotions of the week are known; nothing else of it is.

    Yields
    ------
    polars.DataFrame
        Of a week: store, product, date, units, and lists of quantiles: `model`, `same_weekday`.
    """
    near: dict[tuple[str, str], LineDemand] = {}
    for monday in mondays:
        rows = []
        for store, model in fitted_before(stores, monday, near):
            end = (monday - store.dates[0]).days
            paths = model.paths(monday, 7, N_PATHS, seed=1)
            for name in model.lines:
                units = store.units[store.lines.index(name)]
                quantiles = path_quantiles(paths.units[name])
                rule = same_weekday_quantiles(units[:end], store.is_open[:end])
                rows += [
                    (
                        store.calendar.store.name, name, monday + timedelta(days=day),
                        int(units[end + day]), quantiles[day].tolist(), rule[day].tolist(),
                    )
                    for day in range(7) if store.is_open[end + day]
                ]  # fmt: skip
        columns = ["store", "product", "date", "units", "model", "same_weekday"]
        yield pl.DataFrame(rows, schema=columns, orient="row")


def totals_inside(
    stores: list[Bakery], monday: date, near: dict[tuple[str, str], LineDemand]
) -> pl.DataFrame:
    """Whether what a store sold of all lines together, on each open day of a week, lies in the 80%
    interval of the day: as drawn from the days before (`shared`), and as drawn without a shock
    and a drift that lines share, each line's spread left as it is (`apart`)."""
    rows = []
    for store, model in fitted_before(stores, monday, near):
        end = (monday - store.dates[0]).days
        units = np.stack([store.units[store.lines.index(name)] for name in model.lines])
        sold = units[:, end : end + 7].sum(axis=0)
        together = _totals(model.paths(monday, 7, N_PATHS, seed=1))
        one_by_one = (model.only(name) for name in model.lines)
        # another seed for each line: nothing is shared
        apart = np.sum(
            [_totals(one.paths(monday, 7, N_PATHS, seed)) for seed, one in enumerate(one_by_one)],
            axis=0,
        )
        ends = [np.quantile(drawn, (0.1, 0.9), axis=1) for drawn in (together, apart)]
        inside = np.stack([(low <= sold) & (sold <= high) for low, high in ends], axis=1)
        rows += inside[store.is_open[end : end + 7]].tolist()
    return pl.DataFrame(rows, schema=["shared", "apart"], orient="row")


def _totals(paths: DemandPaths) -> NDArray[np.int64]:
    return np.sum([units.astype(np.int64) for units in paths.units.values()], axis=0)


def fitted_before(
    stores: list[Bakery], monday: date, near: dict[tuple[str, str], LineDemand]
) -> list[tuple[Bakery, DemandModel]]:
    """A demand model of each store, all fitted together to the days before a Monday.

    `near` holds the fits of an earlier Monday by store and line, and then those of this one.
    """
    asked: list[tuple[Bakery, Calendar, str, LineDays]] = []
    for store in stores:
        calendar, end = store.until(monday)
        for line, name in enumerate(store.lines):
            if store.units[line, :end].any():
                asked.append((store, calendar, name, store.days_of(line, calendar, end)))
    if not asked:
        return []
    keys = [(store.calendar.store.name, name) for store, _, name, _ in asked]
    days = [one[-1] for one in asked]
    layout = asked[0][1].layout
    groups, own = groupings(layout, [key[1] for key in keys], [key[0] for key in keys])
    with threadpool_limits(limits=1, user_api="blas"):
        found = fit_together(days, layout, groups, own, [near.get(key) for key in keys])
    models = []
    for store in stores:
        told = {
            one[2]: (of, fit)
            for one, of, fit in zip(asked, days, found, strict=True)
            if one[0] is store and fit is not None
        }
        if not told:
            continue
        near.update(
            {(store.calendar.store.name, name): fit.line for name, (_, fit) in told.items()}
        )
        shock = shared_variance(
            [of for of, _ in told.values()],
            [fit.ahead for _, fit in told.values()],
            [float(fit.line.params[-1]) for _, fit in told.values()],
        )
        lines = {name: fit.line for name, (_, fit) in told.items()}
        models.append((store, DemandModel(lines, {}, store.until(monday)[0], {}, "", shock)))
    return models
