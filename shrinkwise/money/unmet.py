"""What the empty shelf of a past week cost: units that were wanted and not there."""

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import polars as pl
from numpy.typing import NDArray

from shrinkwise.demand.model import DemandModel
from shrinkwise.demand.paths import INTERVAL
from shrinkwise.demand.wanted import past_demand
from shrinkwise.profile.weekdays import WEEKDAYS
from shrinkwise.records.tables import Records

Floats = NDArray[np.float64]

N_DRAWS = 1000
ALL_LINES = "All lines"
ALL_WEEK = "week"
NOT_ON_SALE = "it was neither baked nor sold in the week"
ASSUMED = (
    "Assumed: who finds the shelf empty wanted what shoppers of such a day usually want, and buys "
    "nothing else instead."
)


@dataclass(frozen=True)
class UnmetWeek:
    """Estimated unmet demand of one week.

    Attributes
    ----------
    start : datetime.date
        Its first day.
    lines : tuple of str
    units : array of int, shape (n_lines, 7, n_draws)
        Units wanted and not there, course by course; the lines of a course belong together.
    margin : array of float, shape (n_lines,)
        Price less dough cost [money per unit].
    left_out : dict of str to str
        Lines of which nothing can be said, each with the reason.
    """

    start: date
    lines: tuple[str, ...]
    units: NDArray[np.int64]
    margin: Floats
    left_out: dict[str, str]

    @property
    def missed_margin(self) -> Floats:
        """Of all lines, shape (n_draws,) [money]."""
        return np.asarray(self.margin @ self.units.sum(axis=1), np.float64)

    def table(self) -> pl.DataFrame:
        """By line and weekday, each with its week, and all lines in the end.

        Returns
        -------
        polars.DataFrame
            product, weekday (`ALL_WEEK` for all seven days), unmet_units, unmet_units_low,
            unmet_units_high [units], missed_margin, missed_margin_low, missed_margin_high [money];
            the mean and the ends of the 90% interval, which do not add up.
        """
        days = [WEEKDAYS[(self.start + timedelta(days=day)).weekday()] for day in range(7)]
        rows = []
        money = self.margin[:, None, None] * self.units
        each = [*zip(self.lines, self.units, money, strict=True)]
        for name, units, worth in [*each, (ALL_LINES, self.units.sum(axis=0), money.sum(axis=0))]:
            parts = [*zip(days, units, worth, strict=True)]
            for weekday, *drawn in [*parts, (ALL_WEEK, units.sum(axis=0), worth.sum(axis=0))]:
                figures = [(one.mean(), *np.quantile(one, INTERVAL)) for one in drawn]
                rows.append((name, weekday, *(float(x) for three in figures for x in three)))
        columns = ["unmet_units", "missed_margin"]
        named = [name + end for name in columns for end in ("", "_low", "_high")]
        schema = {"product": pl.String, "weekday": pl.String} | dict.fromkeys(named, pl.Float64)
        return pl.DataFrame(rows, schema=schema, orient="row")


def unmet_week(records: Records, demand: DemandModel, start: date, seed: int = 1) -> UnmetWeek:
    """Estimate what was wanted and not there in the week that begins on `start`.

    On a sold-out day the demand is drawn from the fitted one, given that it was at least the
    sales (see `past_demand`). A line that was not on sale all week is left out.

    Parameters
    ----------
    records : Records
    demand : DemandModel
        Fitted to them.
    start : datetime.date
    seed : int
    """
    past = past_demand(records, demand, start, 7, N_DRAWS, seed)
    left_out = demand.too_thin | past.cannot_tell
    told: list[tuple[str, NDArray[np.int64]]] = []
    for name, wanted in past.units.items():
        first = (start - demand.ledgers[name].start).days
        baked = demand.ledgers[name].baked[max(first, 0) : max(first + 7, 0)]
        if name in left_out:
            continue
        if not past.sold[name].any() and not baked.any():
            left_out[name] = NOT_ON_SALE
            continue
        told.append((name, wanted - past.sold[name][:, None]))
    store = records.profile
    return UnmetWeek(
        start=start,
        lines=tuple(name for name, _ in told),
        units=np.stack([units for _, units in told]) if told else np.zeros((0, 7, N_DRAWS), int),
        margin=np.array([store.line(name).unit_margin for name, _ in told]),
        left_out=left_out,
    )
