"""How well the demand model would have foreseen past weeks, each from the days before it."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np
import polars as pl
from numpy.typing import NDArray

from shrinkwise.demand.model import DemandModel, fit_demand
from shrinkwise.demand.scoring import (
    QUANTILES,
    coverage,
    path_quantiles,
    same_weekday_quantiles,
    weighted_quantile_loss,
)
from shrinkwise.errors import EvidenceError
from shrinkwise.progress import Progress, no_progress
from shrinkwise.records.ledger import LineLedger, stock_ledger
from shrinkwise.records.tables import Records

FEWEST_WEEKS_BEFORE = 8
"""Whole weeks of records before the first week that is predicted."""

N_PATHS = 1000
QUANTILE_COLUMNS = tuple(f"q{round(100 * level):02}" for level in QUANTILES)
_RULE = tuple(f"rule_{name}" for name in QUANTILE_COLUMNS)
_LOGS = ("sales", "markdowns", "disposals", "bakes", "counts")
ALL_LINES = "All lines"


@dataclass(frozen=True)
class Backtest:
    """Predictions of past days beside what was sold.

    Attributes
    ----------
    days : polars.DataFrame
        product, date, units (sold), sold_out, there (most that could be sold; infinity where the
        bakes are not known), the predicted quantiles `QUANTILE_COLUMNS`, and those of the last
        eight same weekdays under the same names with `rule_` before them; all in [units per
        day]. Open days only.
    first, last : datetime.date
        First and last day.
    by_same_weekday : tuple of str
        Lines that were so foreseen in a week, since that had been better until then.
    """

    days: pl.DataFrame
    first: date
    last: date
    by_same_weekday: tuple[str, ...] = ()

    def scores(self) -> pl.DataFrame:
        """Losses and coverage of all lines, of each line and of each month.

        What was wanted on a sold-out day is not known: the loss is that of the sale of what was
        there, on all days, and the interval is held against the other days. A share of the
        units, such as the loss, is bigger for a line that sells little.

        Returns
        -------
        polars.DataFrame
            product, month, days, sold_out_days, units, loss_pct (weighted quantile loss), in_80_pct
            (days not sold out inside the 80% interval), loss_same_weekday_pct,
            in_80_same_weekday_pct.
        """
        month = self.days["date"].dt.strftime("%Y-%m")
        dated = self.days.with_columns(month=month)
        parts = [(ALL_LINES, "", dated)]
        parts += [
            (str(name), "", dated.filter(pl.col("product") == name))
            for name in dated["product"].unique(maintain_order=True)
        ]
        parts += [
            (ALL_LINES, str(name), dated.filter(pl.col("month") == name))
            for name in month.unique().sort()
        ]
        return pl.DataFrame([_score(*part) for part in parts]).fill_nan(None)


def backtest_demand(
    records: Records, weeks: int = 26, seed: int = 1, progress: Progress = no_progress
) -> Backtest:
    """Fit the demand to the days before each of the last whole weeks, and predict the week.

    The events log is read as it stands today: closures, holidays and promotions of a predicted
    week count as planned.

    Parameters
    ----------
    records : Records
    weeks : int
        How many weeks from Monday to Sunday.
    seed : int
    progress : callable, optional
        Called once for each week that is done.

    Raises
    ------
    EvidenceError
        When the records do not reach back far enough.
    """
    mondays = past_mondays(records, weeks)
    ledgers = stock_ledger(records)
    rows: list[tuple[object, ...]] = []
    simple: dict[str, None] = {}
    for monday in mondays:
        model = fit_demand(before(records, monday))
        rows += _week(model, ledgers, monday, seed)
        simple |= {name: None for name, line in model.lines.items() if line.recent is not None}
        progress()
    columns = ["product", "date", "units", "sold_out", "there", *QUANTILE_COLUMNS, *_RULE]
    days = pl.DataFrame(rows, schema=columns, orient="row")
    return Backtest(days, mondays[0], mondays[-1] + timedelta(days=6), tuple(simple))


def past_mondays(records: Records, weeks: int) -> list[date]:
    """The Mondays of the last whole weeks.

    Raises
    ------
    EvidenceError
        When the records do not reach back far enough for all of them to be predicted.
    """
    first, last = records.first_date, records.last_date
    after = last + timedelta(days=1)
    end = after - timedelta(days=after.weekday())
    possible = (end - first).days // 7 - FEWEST_WEEKS_BEFORE
    if possible < weeks:
        can = f"at most --weeks {possible} can be" if possible > 0 else "none can be"
        raise EvidenceError(
            f"The sales run from {first} to {last}; of {weeks} whole weeks to be predicted, "
            f"each needs {FEWEST_WEEKS_BEFORE} weeks before it: {can}. Add older sales logs to "
            "the folder, or ask for fewer weeks."
        )
    return [end - timedelta(days=7 * back) for back in range(weeks, 0, -1)]


def before(records: Records, monday: date) -> Records:
    """The records as they were before a day, the events log as it is."""
    cut = {name: getattr(records, name).filter(pl.col("date") < monday) for name in _LOGS}
    return replace(records, **cut)


def _week(
    model: DemandModel, ledgers: dict[str, LineLedger], monday: date, seed: int
) -> Iterator[tuple[object, ...]]:
    paths = model.paths(monday, 7, N_PATHS, seed)
    for name in model.lines:
        told, known = ledgers[name], model.ledgers[name]
        predicted = path_quantiles(paths.units[name])
        rule = same_weekday_quantiles(known.sold, known.is_open)
        limits = there(told)
        at = (monday - told.start).days
        for day in range(7):
            if told.is_open[at + day]:
                units, sold_out = int(told.sold[at + day]), bool(told.sold_out[at + day])
                quantiles = (*predicted[day].tolist(), *rule[day].tolist())
                most = float(limits[at + day])
                yield name, monday + timedelta(days=day), units, sold_out, most, *quantiles


def there(ledger: LineLedger) -> NDArray[np.float64]:
    """Most that could be sold on each day, shape (n_days,) [units]; infinity where the bakes are
    not known."""
    if not ledger.bakes_known:
        return np.full(len(ledger.sold), np.inf)
    most = np.maximum(ledger.on_hand_open + ledger.baked, ledger.sold)
    return np.where(ledger.sold_out, ledger.sold, most).astype(np.float64)


def _score(product: str, month: str, days: pl.DataFrame) -> dict[str, object]:
    units, there = days["units"].to_numpy(), days["there"].to_numpy()
    sold_out = days["sold_out"].to_numpy()
    figures: dict[str, object] = {
        "product": product,
        "month": month,
        "days": days.height,
        "sold_out_days": int(sold_out.sum()),
        "units": int(units.sum()),
    }
    for which, columns in (("", QUANTILE_COLUMNS), ("_same_weekday", _RULE)):
        quantiles = days.select(columns).to_numpy().astype(np.float64)
        seen = ~np.isnan(quantiles).any(axis=1)
        loss = weighted_quantile_loss(units[seen], quantiles[seen], there[seen])
        told = seen & ~sold_out
        figures |= {
            f"loss{which}_pct": 100 * loss,
            f"in_80{which}_pct": 100 * coverage(units[told], quantiles[told]),
        }
    return figures
