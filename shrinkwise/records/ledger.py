"""The stock ledger: what was on the shelf each day, and on which days it was sold out."""

from dataclasses import dataclass, fields, replace
from datetime import date, timedelta
from typing import Self

import numpy as np
import polars as pl
from numpy.typing import NDArray

from shrinkwise.profile.line import Line
from shrinkwise.records.inferred_bakes import bake_weekdays, inferred_bakes, seen_bakes
from shrinkwise.records.tables import Records

Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

LAST_DAY_REASONS = ("out of date", "donated")
"""Reasons that mean a unit reached its last day, where no bake date says otherwise."""


@dataclass(frozen=True)
class LineLedger:
    """One line, day by day, from its first sale or bake to the last day looked at.

    All arrays have shape (n_days,) and hold units unless said otherwise.

    Attributes
    ----------
    line : Line
    start : datetime.date
        Day of index 0.
    is_open : array of bool
        The store sold something that day.
    baked, sold, sold_reduced, labelled : array of int
        `labelled` are units given the reduced price.
    disposed_last_day, disposed_early : array of int
        Disposed of after close on their last day; disposed of before it (damaged, quality).
    on_hand_open, on_hand_close : array of int
        On the shelf before the bake and after the night's disposal.
    sold_out : array of bool
        Open, and nothing was left to sell at close: the sales are a floor of the demand.
    unexplained : array of int
        Units that the ledger had to add (+) or take away (-) to agree with a count, with the
        sales, or with the shelf life.
    bake_seen : array of bool
        Some unit baked that day was later disposed of or labelled, by its bake date or its age.
    bakes_inferred : bool
        There is no bakes log for the line: the least bakes that balance with what was sold and
        disposed of stand in for it. Only a line that lasts one day can then be seen to be sold
        out, since whatever it has left is disposed of the same night.
    """

    line: Line
    start: date
    is_open: Bools
    baked: Ints
    sold: Ints
    sold_reduced: Ints
    labelled: Ints
    disposed_last_day: Ints
    disposed_early: Ints
    on_hand_open: Ints
    on_hand_close: Ints
    sold_out: Bools
    unexplained: Ints
    bake_seen: Bools
    bakes_inferred: bool

    @property
    def dates(self) -> list[date]:
        """The days of the arrays."""
        return [self.start + timedelta(days=day) for day in range(len(self.sold))]

    @property
    def bakes_known(self) -> bool:
        """They are logged, or a line that lasts one day has them from what left on the day."""
        lasts_a_day = self.line.shelf_life_days == 1
        return not self.bakes_inferred or (lasts_a_day and bool(self.disposed_last_day.any()))

    @property
    def weekday(self) -> Ints:
        """Weekday of each day, Monday 0."""
        return (self.start.weekday() + np.arange(len(self.sold))) % 7


def on_dates(
    ledger: LineLedger, values: NDArray[np.generic], start: date, n_days: int
) -> NDArray[np.float64]:
    """Values of the ledger's days, shape (n_days_of_ledger,), on the days from `start` on; 0
    outside it; shape (n_days,)."""
    at = np.arange(n_days) + (start - ledger.start).days
    inside = (at >= 0) & (at < len(values))
    found = np.zeros(n_days)
    found[inside] = values[at[inside]]
    return found


def stock_ledger(records: Records, last: date | None = None) -> dict[str, LineLedger]:
    """The ledger of every line that was ever sold or baked, by name.

    Parameters
    ----------
    records : Records
    last : datetime.date, optional
        The day with which it ends; the last one of the records when left out.

    Returns
    -------
    dict of str to LineLedger
        In the order of the profile; a line without a sale or bake is left out.
    """
    start, end = records.first_date, last or records.last_date
    n_days = (end - start).days + 1
    open_dates = records.sales.filter(pl.col("units") > 0)["date"].unique()
    is_open = np.isin(np.arange(n_days), [(day - start).days for day in open_dates])
    sales = _by_line(records.sales)
    reduced = _by_line(records.sales.filter(pl.col("reduced")))
    tables = {
        name: _by_line(getattr(records, name)) for name in ("markdowns", "disposals", "bakes")
    }
    counts = _by_line(records.counts)

    ledgers: dict[str, LineLedger] = {}
    for line in records.profile.lines:
        name = line.name

        def daily(rows: pl.DataFrame | None) -> Ints:
            return _daily(rows, start, n_days)

        last_day, early = _split_disposals(tables["disposals"].get(name), line)
        flows = _Flows(
            baked=daily(tables["bakes"].get(name)),
            sold=daily(sales.get(name)),
            sold_reduced=daily(reduced.get(name)),
            labelled=daily(tables["markdowns"].get(name)),
            disposed_last_day=daily(last_day),
            disposed_early=daily(early),
        )
        active = np.flatnonzero((flows.sold != 0) | (flows.baked > 0))
        if not active.size:
            continue
        first = int(active[0])
        flows = flows.since(first)
        line_start = start + timedelta(days=first)
        seen_rows = seen_bakes(last_day, early, tables["markdowns"].get(name), line)
        seen = _daily(seen_rows, line_start, n_days - first) > 0
        inferred = name not in tables["bakes"]
        if inferred:
            flows = replace(flows, baked=_balancing(flows, seen, is_open[first:], line_start, line))
        counted = _counted(counts.get(name), line_start, n_days - first)
        on_open, on_close, unexplained = _balance(flows, counted, line.shelf_life_days)
        # one rule for all evidence: nothing was carried over and nothing was thrown at night
        empty = (on_close == 0) & (flows.disposed_last_day == 0) & (unexplained >= 0)
        ledger = LineLedger(
            line=line,
            start=line_start,
            is_open=is_open[first:],
            baked=flows.baked,
            sold=flows.sold,
            sold_reduced=flows.sold_reduced,
            labelled=flows.labelled,
            disposed_last_day=flows.disposed_last_day,
            disposed_early=flows.disposed_early,
            on_hand_open=on_open,
            on_hand_close=on_close,
            sold_out=is_open[first:] & empty,
            unexplained=unexplained,
            bake_seen=seen,
            bakes_inferred=inferred,
        )
        if not ledger.bakes_known:
            # the least bakes that balance always suffice: that they left nothing shows nothing
            ledger = replace(ledger, sold_out=np.zeros_like(ledger.sold_out))
        ledgers[name] = ledger
    return ledgers


@dataclass(frozen=True)
class _Flows:
    baked: Ints
    sold: Ints
    sold_reduced: Ints
    labelled: Ints
    disposed_last_day: Ints
    disposed_early: Ints

    def since(self, first: int) -> Self:
        """The days from `first` on."""
        return replace(self, **{f.name: getattr(self, f.name)[first:] for f in fields(self)})


def _balance(flows: _Flows, counted: Ints, life: int) -> tuple[Ints, Ints, Ints]:
    """Carry the stock from night to night; where the logs disagree, say by how many units.

    Returns the units on hand before the bake, those after the night's disposal, and the units
    added or taken away without an explanation, each of shape (n_days,).
    """
    change = flows.baked - flows.sold - flows.disposed_last_day - flows.disposed_early
    n_days = len(change)
    on_open, on_close, unexplained = np.zeros((3, n_days), np.int64)
    on_hand = 0
    for day in range(n_days):
        on_open[day] = on_hand
        close = on_hand + change[day]
        # no unit baked before this window can still be within its shelf life tomorrow
        young = int(flows.baked[max(0, day - life + 2) : day + 1].sum()) if life > 1 else 0
        believed = counted[day] if counted[day] >= 0 else min(max(close, 0), young)
        unexplained[day] = believed - close
        on_close[day] = on_hand = believed
    return on_open, on_close, unexplained


def _split_disposals(
    rows: pl.DataFrame | None, line: Line
) -> tuple[pl.DataFrame | None, pl.DataFrame | None]:
    if rows is None:
        return None, None
    age = (pl.col("date") - pl.col("bake_date")).dt.total_days() + 1
    by_reason = pl.col("reason").is_null() | pl.col("reason").str.to_lowercase().is_in(
        LAST_DAY_REASONS
    )
    last_day = pl.coalesce(age >= line.shelf_life_days, by_reason)
    return rows.filter(last_day), rows.filter(~last_day)


def _balancing(flows: _Flows, seen: Bools, is_open: Bools, start: date, line: Line) -> Ints:
    weekday = (start.weekday() + np.arange(len(seen))) % 7
    could_bake = is_open & np.isin(weekday, bake_weekdays(seen, is_open, weekday))
    return inferred_bakes(
        flows.sold, flows.disposed_early, flows.disposed_last_day, line.shelf_life_days, could_bake
    )


def _by_line(rows: pl.DataFrame) -> dict[str, pl.DataFrame]:
    return {str(key[0]): part for key, part in rows.partition_by("product", as_dict=True).items()}


def _daily(rows: pl.DataFrame | None, start: date, n_days: int) -> Ints:
    """Units by day; days before the first sale of the store are left out."""
    units = np.zeros(n_days, np.int64)
    if rows is not None:
        index = (rows["date"] - start).dt.total_days().to_numpy()
        inside = (index >= 0) & (index < n_days)
        np.add.at(units, index[inside], rows["units"].to_numpy()[inside])
    return units


def _counted(rows: pl.DataFrame | None, start: date, n_days: int) -> Ints:
    """Units counted after close by day; -1 where nobody counted."""
    counted = np.full(n_days, -1, np.int64)
    if rows is not None:
        index = (rows["date"] - start).dt.total_days().to_numpy()
        inside = (index >= 0) & (index < n_days)
        seen = np.unique(index[inside])
        counted[seen] = _daily(rows, start, n_days)[seen]
    return counted
