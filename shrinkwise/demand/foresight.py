"""How well past days would have been foreseen a week before: what was sold against what the days
before each week say of the sale of what was there."""

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import polars as pl
from numpy.typing import NDArray
from scipy.special import betainc, ndtri
from threadpoolctl import threadpool_limits

from shrinkwise.demand.backtest import there
from shrinkwise.demand.chances import at_least
from shrinkwise.demand.effects import weekly_change
from shrinkwise.demand.paths import parts_of_noise
from shrinkwise.demand.scoring import QUANTILES, WIDE, mean_pit
from shrinkwise.demand.together import LinesTogether
from shrinkwise.demand.week_ahead import WEEKS, look_back

Floats = NDArray[np.float64]

BINS = 10

OF_THE_TIME = ("weekday", "trend", "long wave", "short wave", "weekend wave", "level")
"""Kinds of effects that other lines tell with days after the week, which must not be heard."""

_STEP = 1e-3
_SCHEMA = {
    "week_start": pl.Date,
    "sold_units": pl.Int64,
    "expected_units": pl.Float64,
    "low_units": pl.Float64,
    "high_units": pl.Float64,
}


@dataclass(frozen=True)
class Foresight:
    """Past days against what was to be expected of them.

    The mean of a day is foreseen from the days before its week; how widely days scatter round it
    is learned from the same year of errors.

    Attributes
    ----------
    pit : array of float, shape (BINS,)
        Share of the days in each tenth of what was foreseen; all alike is best. Empty where no
        line can tell.
    weeks : polars.DataFrame
        week_start, sold_units, expected_units, low_units, high_units (80% interval): sale of all
        lines that can tell.
    line_days : int
        Open days of the lines that were looked at.
    left_out : tuple of str
        Lines without a bakes log: what was there to be sold is not known.
    by_same_weekday : tuple of str
        Lines that are foreseen by the last days of each weekday, and so not looked at.
    """

    pit: Floats
    weeks: pl.DataFrame
    line_days: int
    left_out: tuple[str, ...]
    by_same_weekday: tuple[str, ...] = ()

    @property
    def in_80_pct(self) -> float:
        """Share of the weeks inside their 80% interval [%]."""
        inside = self.weeks.select(pl.col("sold_units").is_between("low_units", "high_units"))
        return 100 * float(inside.to_series().mean() or 0.0)  # type: ignore[arg-type]


@dataclass(frozen=True)
class _Foreseen:
    """Days of a line, `back` days before the end of the records (negative): what was sold, the
    law of the sale, and how it follows a change of the log mean. Arrays of shape (n,), `in_week`
    as in `WeekAhead`."""

    back: NDArray[np.int64]
    sold: NDArray[np.int64]
    low: Floats
    high: Floats
    mean: Floats
    variance: Floats
    slope: Floats
    in_week: Floats
    shock: float


def foresee(together: LinesTogether) -> Foresight:
    """Hold the last year of days against what was to be expected a week before.

    The sale of a day is the demand, cut at what was there; what was to be expected of it needs no
    guess of what was wanted on a sold-out day.

    Parameters
    ----------
    together : LinesTogether
    """
    names, lines = together.names, together.model.lines
    simple = tuple(name for name in names if lines[name].recent is not None)
    logged = [name for name in names if together.model.ledgers[name].bakes_known]
    left_out = tuple(name for name in names if name not in (*logged, *simple))
    with threadpool_limits(limits=1, user_api="blas"):
        seen = [
            _foreseen(together, at)
            for at, name in enumerate(names)
            if name in logged and name not in simple
        ]
    told = [one for one in seen if len(one.sold)]
    if not told:
        return Foresight(np.zeros(0), pl.DataFrame(schema=_SCHEMA), 0, left_out, simple)
    low, high = (np.concatenate([getattr(one, name) for one in told]) for name in ("low", "high"))
    return Foresight(
        pit=mean_pit(low, high, BINS),
        weeks=_weeks(told, together.model.calendar.origin),
        line_days=len(low),
        left_out=left_out,
        by_same_weekday=simple,
    )


def _foreseen(together: LinesTogether, at: int) -> _Foreseen:
    name, days, model = together.names[at], together.days[at], together.model
    params = model.lines[name].params
    ahead = look_back(days, together.prior_of_its_own(at, OF_THE_TIME), params)
    sold, most = days.sold[ahead.day], there(model.ledgers[name])[ahead.day]
    # the paths draw the mean as a lognormal: its doubt lifts the mean and widens the spread
    log_mean = ahead.log_mean + ahead.variance / 2
    alpha = np.exp(params[-1])
    log_alpha = np.log((1 + alpha) * np.exp(ahead.variance) - 1)
    mean, square = cut_moments(most, log_mean, log_alpha)
    more, less = (cut_moments(most, log_mean + step, log_alpha)[0] for step in (_STEP, -_STEP))
    spread, _ = parts_of_noise(np.array([alpha]), model.shock)
    reached = sold >= most
    units = sold.astype(np.float64)
    return _Foreseen(
        back=ahead.day - len(days.sold),
        sold=sold,
        low=-np.expm1(at_least(units, log_mean, log_alpha)),
        high=np.where(reached, 1.0, -np.expm1(at_least(units + 1, log_mean, log_alpha))),
        mean=mean,
        variance=square - mean**2,
        slope=(more - less) / (2 * _STEP),
        in_week=ahead.in_week,
        shock=float(spread[0]),
    )


def cut_moments(most: Floats, log_mean: Floats, log_alpha: Floats) -> tuple[Floats, Floats]:
    """Mean and mean square of min(D, most) of a negative binomial demand D, each of shape (n,).

    With y f(y; r) = mean f(y - 1; r + 1), and so on, the moments below a limit are tails of
    negative binomials of a larger size.

    Parameters
    ----------
    most : array of float, shape (n,)
        Whole [units].
    log_mean, log_alpha : array of float, shape (n,)
    """
    mean, size = np.exp(log_mean), np.exp(-log_alpha)
    q = mean / (mean + size)

    def reaching(limit: Floats, of_size: Floats) -> Floats:
        """P(NB >= limit), as in `at_least`."""
        tail = np.ones_like(mean)
        some = limit >= 1
        tail[some] = betainc(limit[some], of_size[some], q[some])
        return tail

    top = reaching(most, size)
    first = mean * (1 - reaching(most - 1, size + 1))
    second = mean**2 * (1 + 1 / size) * (1 - reaching(most - 2, size + 2))
    return first + most * top, second + first + most**2 * top


def _weeks(lines: list[_Foreseen], origin: date) -> pl.DataFrame:
    """Sums of all lines by week, with their 80% interval.

    A day's shock is shared by all lines. Lines share as much of the doubt about their means as
    they share of the drift of the level.
    """
    parts = {part: weekly_change(part) ** 2 for part in ("everywhere", "category", "store", "line")}
    together = (parts["everywhere"] + parts["store"]) / sum(parts.values())
    shape = (len(lines), 7 * WEEKS)
    sold, mean, own, by_shock, slope = np.zeros((5, *shape))
    doubts = np.zeros((len(lines), WEEKS))
    open_days = np.zeros(7 * WEEKS, np.bool_)
    for row, one in enumerate(lines):
        sold[row, one.back], mean[row, one.back] = one.sold, one.mean
        by_shock[row, one.back] = one.slope * one.shock
        slope[row, one.back] = one.slope
        day, week = np.arange(len(one.back)), one.back // 7
        doubt = one.in_week[day, one.back % 7]
        alone = one.variance - one.slope**2 * (one.shock**2 + doubt)
        own[row, one.back] = np.maximum(alone, 0.0)
        with_week = (one.in_week * slope[row].reshape(WEEKS, 7)[week]).sum(axis=1)
        np.add.at(doubts[row], week, one.slope * with_week)
        open_days[one.back] = True

    def weekly(values: Floats) -> Floats:
        return values.reshape(*values.shape[:-1], WEEKS, 7).sum(axis=-1)

    variance = weekly(own.sum(axis=0)) + weekly(by_shock.sum(axis=0) ** 2)
    variance += together * np.sqrt(doubts).sum(axis=0) ** 2
    variance += (1 - together) * doubts.sum(axis=0)
    expected = weekly(mean.sum(axis=0))
    ends = [expected + ndtri(QUANTILES[at]) * np.sqrt(variance) for at in WIDE]
    first = origin - timedelta(days=7 * WEEKS - 1)
    table = pl.DataFrame(
        {
            "week_start": [first + timedelta(days=7 * week) for week in range(WEEKS)],
            "sold_units": weekly(sold.sum(axis=0)).astype(np.int64),
            "expected_units": expected,
            "low_units": np.maximum(ends[0], 0.0),
            "high_units": ends[1],
        },
        schema=_SCHEMA,
    )
    return table.filter(pl.Series(open_days.reshape(WEEKS, 7).any(axis=1)))
