"""The demand model: fitted to the records, it draws paths of daily demand."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from zlib import crc32

import numpy as np
import polars as pl
from numpy.typing import NDArray

from shrinkwise.demand.calendar import Calendar, store_calendar
from shrinkwise.demand.factor import NO_FACTORS, DemandFactor, scaled
from shrinkwise.demand.line import LineDemand, fit_line, too_many_units, usable_days
from shrinkwise.demand.prices import past_price_ratio
from shrinkwise.demand.unlogged import can_reconstruct, fit_unlogged
from shrinkwise.errors import EvidenceError
from shrinkwise.profile.line import Line
from shrinkwise.profile.weekdays import WEEKDAYS
from shrinkwise.progress import Progress, no_progress, on_all_cores
from shrinkwise.records.ledger import LineLedger, stock_ledger
from shrinkwise.records.tables import Records
from shrinkwise.records.today import Today, day_under_way

MOST_UNITS = 20_000
"""Draws are cut here [units a day], so that a week's stock still fits the engine's int16."""

FEWEST_DAYS = 7
"""Open days with the line on sale below which no demand is fitted."""

INTERVAL = (0.05, 0.95)
FIT_SEED = 20_002
_WEEKDAY_MEAN_DAYS = 182


@dataclass(frozen=True)
class DemandPaths:
    """Possible futures of the daily demand.

    Attributes
    ----------
    start : datetime.date
    weekday : array of int, shape (n_days,)
    is_open : array of bool, shape (n_days,)
    units : dict of str to array of int16, shape (n_days, n_paths)
        Units wanted, by line; path k of every line belongs to the same future.
    means : dict of str to array of float, shape (n_days, n_paths)
        The mean from which each path's units were drawn [units per day].
    """

    start: date
    weekday: NDArray[np.int64]
    is_open: NDArray[np.bool_]
    units: dict[str, NDArray[np.int16]]
    means: dict[str, NDArray[np.float64]]


@dataclass(frozen=True)
class DemandModel:
    """Fitted demand of every line with enough days, by name.

    `too_thin` names the lines that are left out, each with the reason, mostly too few days;
    `today` holds the last day of the records where it was under way, which says nothing of a
    day's demand.
    """

    lines: dict[str, LineDemand]
    too_thin: dict[str, str]
    calendar: Calendar
    ledgers: dict[str, LineLedger]
    fingerprint: str
    today: dict[str, Today] = field(default_factory=dict)

    def paths(
        self,
        start: date,
        days: int,
        n_paths: int,
        seed: int,
        factors: Mapping[str, DemandFactor] = NO_FACTORS,
    ) -> DemandPaths:
        """Draw demand paths; parameter uncertainty is in them.

        Parameters
        ----------
        start : datetime.date
        days, n_paths : int
        seed : int
            The same seed gives the same paths, whatever other lines there are.
        factors : mapping of str to DemandFactor
            What the demand of a line is multiplied by, path by path; the shoppers who come
            without it come with it too, as far as there are as many.

        Returns
        -------
        DemandPaths
        """
        dates = [start + timedelta(days=day) for day in range(days)]
        is_open = self.calendar.is_open(dates)
        units, means = {}, {}
        for name, line in self.lines.items():
            rng = np.random.default_rng([seed, crc32(name.encode())])
            log_mean, alpha = self._log_means(name, line.draws(n_paths, rng), dates)
            mean = np.minimum(np.exp(log_mean), MOST_UNITS)
            rate = mean * rng.gamma(1 / alpha, alpha, size=mean.shape)
            drawn = rng.poisson(rate)
            if name in factors:
                rng = np.random.default_rng([seed, crc32(f"factor of {name}".encode())])
                by_path = factors[name].draws(n_paths, rng)
                drawn = scaled(drawn, rate, by_path, rng)
                mean = np.minimum(mean * by_path, MOST_UNITS)
            drawn = np.minimum(drawn, MOST_UNITS)
            units[name] = np.where(is_open[:, None], drawn, 0).astype(np.int16)
            means[name] = np.where(is_open[:, None], mean, 0.0)
        weekday = np.array([day.weekday() for day in dates])
        return DemandPaths(start, weekday, is_open, units, means)

    def only(self, name: str) -> "DemandModel":
        """This model with one line."""
        return replace(self, lines={name: self.lines[name]})

    def expected(self, name: str, dates: list[date]) -> NDArray[np.float64]:
        """Expected demand of a line on past or coming days; 0 when closed, shape (n_days,)."""
        log_mean, _ = self._log_means(name, self.lines[name].params[None], dates)
        return np.where(self.calendar.is_open(dates), np.exp(log_mean[:, 0]), 0.0)

    def on_hand(self, name: str) -> int:
        """Units of a line on the shelf after the last night that the ledger holds.

        By the ledger; where the bakes are not logged, the mean of the reconstructions.
        """
        told = [one.ledger for one in self.lines[name].reconstructions] or [self.ledgers[name]]
        return round(float(np.mean([ledger.on_hand_close[-1] for ledger in told])))

    def weekday_means(self, seed: int = 1, n_draws: int = 400) -> pl.DataFrame:
        """Mean demand by weekday over the last 26 weeks' open days, with a 90% interval.

        Returns
        -------
        polars.DataFrame
            product, weekday, mean_units, low_units, high_units [units per day].
        """
        last = self.calendar.origin
        dates = [last - timedelta(days=day) for day in range(_WEEKDAY_MEAN_DAYS)]
        is_open = self.calendar.is_open(dates)
        dates = [day for day, open_day in zip(dates, is_open, strict=True) if open_day]
        rows = []
        for name, line in self.lines.items():
            rng = np.random.default_rng([seed, crc32(name.encode())])
            means = np.exp(self._log_means(name, line.draws(n_draws, rng), dates)[0])
            for index, weekday in enumerate(WEEKDAYS):
                of_day = [day.weekday() == index for day in dates]
                if any(of_day):
                    by_draw = means[of_day].mean(axis=0)
                    low, high = np.quantile(by_draw, INTERVAL)
                    rows.append((name, weekday, by_draw.mean(), low, high))
        columns = ["product", "weekday", "mean_units", "low_units", "high_units"]
        return pl.DataFrame(rows, schema=columns, orient="row")

    def _log_means(
        self, name: str, draws: NDArray[np.float64], dates: list[date]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        ratio = self.calendar.planned_price_ratio(name, dates)
        effects = self.calendar.effects(name, dates, ratio)
        return effects @ draws[:, :-1].T, np.exp(draws[:, -1])


def fit_demand(records: Records, progress: Progress = no_progress) -> DemandModel:
    """Learn each line's daily demand from its sales, with sold-out days as floors.

    Negative binomial regression with effects of weekday, trend, season (two annual waves),
    public holidays and their eves, events and price; weak normal priors keep a short history
    sensible. Hilbe, *Negative Binomial Regression*, 2nd ed., Cambridge 2011, ch. 8 (the NB2
    form) for the model. Where the bakes of a line are not logged, see `fit_unlogged`.

    Parameters
    ----------
    records : Records
    progress : callable, optional
        Called once for each line that is done.

    Returns
    -------
    DemandModel

    Raises
    ------
    EvidenceError
        When no line has enough days on sale.
    """
    calendar = store_calendar(records)
    today = day_under_way(records)
    last_day = records.last_date - timedelta(days=1 if today else 0)
    ledgers = stock_ledger(records, last_day)

    def fit(line: Line) -> LineDemand | str:
        ledger = ledgers.get(line.name)
        days = 0 if ledger is None else int(usable_days(ledger).sum())
        if ledger is None or days < FEWEST_DAYS:
            return f"{days} days on sale in the records; {FEWEST_DAYS} are the least to plan on"
        if (reason := too_many_units(ledger)) is not None:
            return reason
        ratio = past_price_ratio(records, calendar, ledger)
        try:
            effects = calendar.effects(line.name, ledger.dates, ratio)
            if can_reconstruct(ledger):
                return fit_unlogged(ledger, effects, crc32(f"{FIT_SEED} {line.name}".encode()))
            return fit_line(ledger, effects)
        except ArithmeticError:
            return "its sales follow no pattern that a demand can be read from"

    def one_by_one(lines: list[Line]) -> Iterator[LineDemand | str]:
        # many short steps in Python: threads would only wait for each other
        for line in lines:
            yield fit(line)
            progress()

    lines = records.profile.lines
    slow = [line for line in lines if line.name in ledgers and can_reconstruct(ledgers[line.name])]
    quick = [line for line in lines if line not in slow]
    answers = [*on_all_cores(fit, quick, progress), *one_by_one(slow)]
    by_name = {line.name: one for line, one in zip([*quick, *slow], answers, strict=True)}
    found = {line.name: by_name[line.name] for line in lines}
    fitted = {name: line for name, line in found.items() if isinstance(line, LineDemand)}
    too_thin = {name: reason for name, reason in found.items() if isinstance(reason, str)}
    if not fitted:
        seen = [name for name in too_thin if name in ledgers and _has_days(ledgers[name])]
        if seen:
            reasons = " ".join(f"{name}: {too_thin[name]}." for name in seen)
            raise EvidenceError(f"No line can be planned. {reasons}")
        raise EvidenceError(
            f"No line has {FEWEST_DAYS} days on sale in the records, so no demand can be told. "
            "Add older sales logs to the folder, or wait until there are enough days."
        )
    return DemandModel(fitted, too_thin, calendar, ledgers, records.fingerprint, today)


def _has_days(ledger: LineLedger) -> bool:
    """Whether there are enough days to plan on."""
    return int(usable_days(ledger).sum()) >= FEWEST_DAYS
