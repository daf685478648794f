"""What was wanted on past days: the sales, and more than them where the shelf was empty."""

from dataclasses import dataclass
from datetime import date, timedelta
from zlib import crc32

import numpy as np
from numpy.typing import NDArray

from shrinkwise.demand.chances import after, beyond, log_chances
from shrinkwise.demand.hours import last_sale_shares
from shrinkwise.demand.model import DemandModel
from shrinkwise.demand.paths import parts_of_noise
from shrinkwise.demand.prices import past_price_ratio
from shrinkwise.records.ledger import LineLedger, on_dates
from shrinkwise.records.tables import Records

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SHOCKS = np.linspace(-4.0, 4.0, 65)
"""Sizes of the store's shock that are weighed [standard deviations]."""

BAKES_UNKNOWN = "without a bakes log, the days on which it was sold out are not known"


@dataclass(frozen=True)
class PastDemand:
    """Possible courses of what was wanted on past days.

    Attributes
    ----------
    start : datetime.date
    units : dict of str to array of int, shape (n_days, n_draws)
        Units wanted, by line; draw k of every line belongs to the same course.
    sold : dict of str to array of int, shape (n_days,)
        Units sold.
    cannot_tell : dict of str to str
        Lines of whose sold-out days nothing is known, each with the reason.
    """

    start: date
    units: dict[str, Ints]
    sold: dict[str, Ints]
    cannot_tell: dict[str, str]


def past_demand(
    records: Records, model: DemandModel, start: date, n_days: int, n_draws: int, seed: int
) -> PastDemand:
    """Draw what was wanted on past days, given what was sold and what was sold out.

    On a day on which something was left, the demand is the sales. On a sold-out one it is drawn
    from the fitted demand of that day, given that it was at least the sales: who finds the shelf
    empty is taken to be a shopper like the others. What the day's shock did to all lines is
    drawn given what all of them sold (lines whose bakes are logged tell of it).

    Parameters
    ----------
    records : Records
    model : DemandModel
        Fitted to them, or to more.
    start : datetime.date
    n_days, n_draws : int
    seed : int
    """
    hours = last_sale_shares(records, model.ledgers)
    seen = {
        name: _SeenDays.of(records, model, name, hours[name], start, n_days) for name in model.lines
    }
    shock = _shocks(model, seen, n_days, n_draws, np.random.default_rng(seed))
    units = {}
    for name, days in seen.items():
        rng = np.random.default_rng([seed, crc32(name.encode())])
        draws = model.lines[name].draws(n_draws, rng)
        units[name] = _line_units(days, draws, shock, model.shock, rng)
    return PastDemand(
        start=start,
        units=units,
        sold={name: days.sold for name, days in seen.items()},
        cannot_tell={name: BAKES_UNKNOWN for name, days in seen.items() if not days.told},
    )


@dataclass(frozen=True)
class _SeenDays:
    """A line's days: shape (n_days,), those before its first one empty; `sold_out` has a row for
    each reconstruction of the bakes, or one."""

    sold: Ints
    sold_out: NDArray[np.bool_]
    usable: NDArray[np.bool_]
    effects: Floats
    until: Floats
    told: bool
    logged: bool

    @classmethod
    def of(
        cls,
        records: Records,
        model: DemandModel,
        name: str,
        hours: Floats,
        start: date,
        n_days: int,
    ) -> "_SeenDays":
        ledger = model.ledgers[name]
        courses = [one.ledger for one in model.lines[name].reconstructions]
        dates = [start + timedelta(days=day) for day in range(n_days)]
        ratios = past_price_ratio(records, model.calendar, ledger)

        def on(one: LineLedger, values: NDArray[np.generic]) -> Floats:
            return on_dates(one, values, start, n_days)

        sold_out = [on(one, one.sold_out) for one in courses or [ledger]]
        return cls(
            sold=np.maximum(on(ledger, ledger.sold), 0),
            sold_out=np.stack(sold_out).astype(np.bool_),
            usable=on(ledger, ledger.is_open).astype(np.bool_),
            effects=model.calendar.effects(name, dates, on(ledger, ratios)),
            until=np.column_stack([on(ledger, hours[:, 0]), 1 - on(ledger, 1 - hours[:, 1])]),
            told=ledger.bakes_known or bool(courses),
            logged=ledger.bakes_known,
        )


def _shocks(
    model: DemandModel,
    seen: dict[str, _SeenDays],
    n_days: int,
    n_draws: int,
    rng: np.random.Generator,
) -> Floats:
    """The store's shock on each day, given all sales: shape (n_days, n_draws), standard normal
    before they are looked at.

    Weighed on a grid at the lines' most likely parameters.
    """
    log_weight = np.repeat(-(SHOCKS**2)[:, None] / 2, n_days, axis=1)
    for name, days in seen.items():
        params = model.lines[name].params
        spread, own = parts_of_noise(np.exp(params[-1:]), model.shock)
        moved = spread * SHOCKS - spread**2 / 2
        log_mean = moved[:, None] + days.effects @ params[:-1]
        exact, floor = log_chances(days.sold, log_mean, np.log(own).repeat(len(SHOCKS)), days.until)
        told = np.where(days.sold_out[0], floor, exact)
        log_weight += np.where(days.usable & days.logged, told, 0.0)
    weight = np.exp(log_weight - log_weight.max(axis=0))
    below = np.cumsum(weight / weight.sum(axis=0), axis=0)
    step = SHOCKS[1] - SHOCKS[0]
    u, within = rng.random((n_days, n_draws)), rng.random((n_days, n_draws))
    drawn = np.stack([np.searchsorted(below[:-1, day], u[day]) for day in range(n_days)])
    return np.asarray(SHOCKS[drawn] + step * (within - 0.5))


def _line_units(
    days: _SeenDays, draws: Floats, shock: Floats, variance: float, rng: np.random.Generator
) -> Ints:
    """Units wanted of a line, shape (n_days, n_draws); draw k is of reconstruction k modulo their
    number."""
    n_draws = len(draws)
    spread, own = parts_of_noise(np.exp(draws[:, -1]), variance)
    log_own = np.log(own)
    units = np.repeat(days.sold[:, None], n_draws, axis=1)
    course = np.arange(n_draws) % len(days.sold_out)
    for day in np.flatnonzero(days.sold_out.any(axis=0)):
        log_mean = draws[:, :-1] @ days.effects[day] + spread * shock[day] - spread**2 / 2
        floor = np.full(n_draws, float(days.sold[day]))
        if days.until[day, 1] < 1 or days.until[day, 0] > 0:
            came = rng.uniform(days.until[day, 0], days.until[day, 1], n_draws)
            more = after(floor, log_mean, log_own, came, rng)
        else:
            more = beyond(floor, log_mean, log_own, rng)
        units[day] += np.where(days.sold_out[course, day], more, 0)
    return units
