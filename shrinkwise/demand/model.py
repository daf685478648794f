"""The demand model: fitted to the records, it draws paths of daily demand."""

from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from zlib import crc32

import numpy as np
from numpy.typing import NDArray
from threadpoolctl import threadpool_limits

from shrinkwise.demand.by_hours import unlogged_fit
from shrinkwise.demand.calendar import Calendar, store_calendar
from shrinkwise.demand.effects import Effect, weekly_change
from shrinkwise.demand.factor import NO_FACTORS, DemandFactor, scaled
from shrinkwise.demand.fitting import Fitted, fit_together, groupings
from shrinkwise.demand.hours import LineHours, hours_of_sale
from shrinkwise.demand.line import FEWEST_DAYS, LineDays, LineDemand, usable_days, why_no_demand
from shrinkwise.demand.paths import MOST_UNITS, DemandPaths, drawn_units, drifted, store_shocks
from shrinkwise.demand.pooling import LinePrior
from shrinkwise.demand.seen import seen_days
from shrinkwise.demand.week_ahead import shared_variance
from shrinkwise.errors import EvidenceError
from shrinkwise.progress import Progress, no_progress
from shrinkwise.records.ledger import LineLedger, stock_ledger
from shrinkwise.records.tables import Records
from shrinkwise.records.today import Today, day_under_way

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

NO_PATTERN = "its sales follow no pattern that a demand can be read from"
FIT_SEED = 20_002


@dataclass(frozen=True)
class DemandModel:
    """Fitted demand of every line with enough days, by name.

    `too_thin` names the lines that are left out, each with the reason, mostly too few days, or that
    it has ended; `shock` is the variance of what all lines share on a day, as a share of the mean;
    `today` holds the last day of the records where it was under way, which says nothing of a day's
    demand. A line without a history stands in `lenders`, with those whose demand it borrows: it
    wants what they want on average, on their good days and their bad ones. `priors` hold what the
    other lines say of each.
    """

    lines: dict[str, LineDemand]
    too_thin: dict[str, str]
    calendar: Calendar
    ledgers: dict[str, LineLedger]
    fingerprint: str
    shock: float
    today: dict[str, Today] = field(default_factory=dict)
    lenders: dict[str, dict[str, LineDemand]] = field(default_factory=dict)
    priors: dict[str, LinePrior] = field(default_factory=dict)

    def paths(
        self,
        start: date,
        days: int,
        n_paths: int,
        seed: int,
        factors: Mapping[str, DemandFactor] = NO_FACTORS,
    ) -> DemandPaths:
        """Draw demand paths.

        What is not known is in them: the effects, the dispersion, the present level and where it
        drifts week by week. Lines share the drift of the store and the shock of the day.

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
        ahead = np.array([(day - self.calendar.origin).days for day in dates])
        is_open = self.calendar.is_open(dates)
        shocks = store_shocks(ahead, n_paths, self.shock, seed)
        weekday = np.array([day.weekday() for day in dates])
        units, means = {}, {}

        def wanted_of(name: str, line: LineDemand) -> tuple[Ints, Floats, Floats]:
            rng = np.random.default_rng([seed, crc32(name.encode())])
            log_mean, alpha = self._log_means(name, line.draws(n_paths, rng), dates)
            drift = shocks.level + drifted(ahead, n_paths, weekly_change("line"), rng)
            if line.recent is not None:
                return line.recent.drawn(weekday, drift, shocks, rng)
            mean = np.minimum(np.exp(log_mean), MOST_UNITS)
            return *drawn_units(mean * np.exp(drift), alpha, shocks, rng), mean

        for name, line in self.lines.items():
            lenders = self.lenders.get(name, {name: line})
            found = [wanted_of(*lender) for lender in lenders.items()]
            drawn, rate, mean = (np.sum(parts, axis=0) for parts in zip(*found, strict=True))
            if name in factors:
                rng = np.random.default_rng([seed, crc32(f"factor of {name}".encode())])
                by_path = factors[name].draws(n_paths, rng, seed) / len(lenders)
                drawn = scaled(drawn, rate, by_path, rng)
                mean = np.minimum(mean * by_path, MOST_UNITS)
            wanted = np.minimum(drawn, MOST_UNITS)
            units[name] = np.where(is_open[:, None], wanted, 0).astype(np.int16)
            means[name] = np.where(is_open[:, None], mean, 0.0)
        return DemandPaths(start, weekday, is_open, units, means)

    def only(self, name: str) -> "DemandModel":
        """This model with one line."""
        return replace(self, lines={name: self.lines[name]})

    def borrowing(self, name: str, lenders: Iterable[str]) -> "DemandModel":
        """This model with nothing but a line without a history.

        Its demand factor is against the mean of the lenders, and must be given to `paths`.

        Parameters
        ----------
        name : str
        lenders : iterable of str
            Lines with a demand, at least one.
        """
        lent = {lender: self.lines[lender] for lender in lenders}
        first = next(iter(lent.values()))
        return replace(self, lines={name: first}, lenders={name: lent})

    def expected(self, name: str, dates: list[date]) -> NDArray[np.float64]:
        """Expected demand of a line on past or coming days; 0 when closed, shape (n_days,)."""
        line, calendar = self.lines[name], self.calendar
        mean = np.exp(self._log_means(name, line.params[None], dates)[0][:, 0])
        if line.recent is not None:
            by_weekday = line.recent.means[[day.weekday() for day in dates]]
            mean = np.where([day > calendar.origin for day in dates], by_weekday, mean)
        return np.where(calendar.is_open(dates), mean, 0.0)

    def on_hand(self, name: str) -> int:
        """Units of a line on the shelf after the last night that the ledger holds.

        By the ledger; where the bakes are not logged, the mean of the reconstructions.
        """
        told = [one.ledger for one in self.lines[name].reconstructions] or [self.ledgers[name]]
        return round(float(np.mean([ledger.on_hand_close[-1] for ledger in told])))

    def _log_means(self, name: str, draws: Floats, dates: list[date]) -> tuple[Floats, Floats]:
        ratio = self.calendar.planned_price_ratio(name, dates)
        effects = self.calendar.effects(name, dates, ratio)
        return effects @ draws[:, :-1].T, np.exp(draws[:, -1])


def fit_demand(records: Records, progress: Progress = no_progress) -> DemandModel:
    """Learn each line's daily demand from its sales, with sold-out days as floors.

    Negative binomial regression (Hilbe, *Negative Binomial Regression*, 2nd ed., Cambridge 2011,
    ch. 8, the NB2 form) on what the calendar knows of a day, with a level that drifts; each line
    is held to what the other lines of the store and of its category say, so that a short history
    is sensible and a long one is its own. Where the bakes of a line are not logged, see
    `demand.unlogged`.

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
    today = day_under_way(records)
    ledgers = stock_ledger(records, records.last_date - timedelta(days=1 if today else 0))
    calendar, hours = store_calendar(records, ledgers), hours_of_sale(records, ledgers)
    too_thin: dict[str, str] = {}
    days: dict[str, LineDays] = {}
    for line in records.profile.lines:
        ledger = ledgers.get(line.name)
        if (reason := why_no_demand(ledger)) is not None:
            too_thin[line.name] = reason
            progress()
        elif ledger is not None:
            days[line.name] = seen_days(records, calendar, ledger, hours[line.name])
    # the matrices are small: threads within a product would only wait for each other
    with threadpool_limits(limits=1, user_api="blas"):
        found = _fit_lines(records, ledgers, hours, calendar.layout, days, progress)
    too_thin |= {name: NO_PATTERN for name in days if name not in found}
    if not found:
        enough = {name for name, one in ledgers.items() if usable_days(one).sum() >= FEWEST_DAYS}
        reasons = [f"{name}: {why}." for name, why in too_thin.items() if name in enough]
        if reasons:
            raise EvidenceError(f"No line can be planned. {' '.join(reasons)}")
        raise EvidenceError(
            f"No line has {FEWEST_DAYS} days on sale in the records, so no demand can be told. "
            "Add older sales logs to the folder, or wait until there are enough days."
        )
    shock = shared_variance(
        [days[name] for name in found],
        [one.ahead for one in found.values()],
        [float(one.line.params[-1]) for one in found.values()],
    )
    order = [line.name for line in records.profile.lines]
    return DemandModel(
        lines={name: found[name].line for name in order if name in found},
        too_thin={name: too_thin[name] for name in order if name in too_thin},
        calendar=calendar,
        ledgers=ledgers,
        fingerprint=records.fingerprint,
        shock=shock,
        today=today,
        priors={name: one.prior for name, one in found.items()},
    )


def _fit_lines(
    records: Records,
    ledgers: dict[str, LineLedger],
    hours: dict[str, LineHours],
    layout: tuple[Effect, ...],
    days: dict[str, LineDays],
    progress: Progress,
) -> dict[str, Fitted]:
    """Fit the lines together, then those without a bakes log again and again."""
    if not (names := list(days)):
        return {}
    category = [records.profile.line(name).category for name in names]
    groups, own = groupings(layout, category, [records.profile.name] * len(names))
    fitted = fit_together(list(days.values()), layout, groups, own)
    found: dict[str, Fitted] = {}
    # many short steps in Python: threads would only wait for each other
    for name, one in zip(names, fitted, strict=True):
        draw = unlogged_fit(ledgers[name], hours[name])
        if one is not None and draw is not None:
            seed = crc32(f"{FIT_SEED} {name}".encode())
            with suppress(ArithmeticError):
                line = draw(ledgers[name], days[name].effects, hours[name], one.prior, seed)
                found[name] = replace(one, line=line)
        elif one is not None:
            found[name] = one
        progress()
    return found
