"""Lines that are reduced in the logs, though store.toml says nothing of it."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta

import numpy as np
import polars as pl

from shrinkwise.profile.line import Line
from shrinkwise.records.findings import OF_LINE, Suggestion, doubt
from shrinkwise.records.ledger import LineLedger
from shrinkwise.records.markdowns import NEXT_TO_NOTHING
from shrinkwise.records.on_sale import last_seen
from shrinkwise.records.tables import Records

LATELY_DAYS, FEWEST_DAYS = 182, 3
"""A line is reduced where it was on so many of the last days (common practice, no source)."""

_SAME_AGE = 0.9
"""Share of the markdown days that a bake so many days before must explain."""


@dataclass(frozen=True)
class Unset:
    """A line that is reduced in the logs, without a setting that says so.

    Attributes
    ----------
    line : Line
    rows : polars.DataFrame
        Of the markdowns or of the reduced sales.
    day : int or None
        The usual day on shelf; None where the logs do not tell it.
    price : float or None
        The usual reduced price [money per unit]; None where it is not below the full one.
    """

    line: Line
    rows: pl.DataFrame
    day: int | None
    price: float | None

    @property
    def settings(self) -> tuple[str, str]:
        """Lines for its block of store.toml, with a question mark for what is not known."""
        day = "?" if self.day is None else f"{self.day}"
        price = "?" if self.price is None else f"{self.price:.2f}"
        return f"reduce_on_day = {day}", f"reduced_price = {price}"


def unset_reductions(records: Records, ledgers: dict[str, LineLedger]) -> list[Unset]:
    """Lines that are reduced nowadays although store.toml has no `reduce_on_day` for them.

    Parameters
    ----------
    records : Records
    ledgers : dict of str to LineLedger
    """
    return [
        found
        for name, ledger in ledgers.items()
        if ledger.line.reduce_on_day is None and last_seen(ledger) is None
        if (found := _unset(records, ledger.line)) is not None
    ]


def unset_doubts(unset: list[Unset]) -> Iterator[pl.DataFrame]:
    """A doubt for each of these lines."""
    for one in unset:
        unknown = " (?: only you can tell)" if "?" in "".join(one.settings) else ""
        yield doubt(
            one.rows,
            "is reduced in the logs, and store.toml has no reduce_on_day for it, so that no plan "
            "reduces it",
            f"Add to its [[lines]] block, as is usual in the logs: {' and '.join(one.settings)}"
            f"{unknown}.",
            "product",
            one.line.name,
        )


def unset_suggestions(unset: list[Unset]) -> tuple[Suggestion, ...]:
    """The settings that these lines lack."""
    return tuple(
        Suggestion(OF_LINE, one.line.name, setting, f"{one.rows['file'][0]}, as is usual there")
        for one in unset
        for setting in one.settings
    )


def _unset(records: Records, line: Line) -> Unset | None:
    since = records.last_date - timedelta(days=LATELY_DAYS - 1)
    of_line = (pl.col("product") == line.name) & (pl.col("date") >= since) & (pl.col("units") > 0)
    marked = records.markdowns.filter(of_line)
    sold = records.sales.filter(of_line & pl.col("reduced"))
    rows = sold if marked.is_empty() else marked
    if rows["date"].n_unique() < FEWEST_DAYS:
        return None
    price = "unit_price" if rows is marked else pl.col("net_sales") / pl.col("units")
    usual = _usual(rows.select(price, "units"))
    below = usual if NEXT_TO_NOTHING * line.price <= usual < line.price else None
    bakes = records.bakes.filter(pl.col("product") == line.name, pl.col("units") > 0)
    day = _usual_day(marked, bakes, line)
    return Unset(line, rows, day, below)


def _usual(values: pl.DataFrame) -> float:
    """The median of the first column over the units in the second."""
    ordered = values.sort(values.columns[0])
    reached = ordered["units"].cum_sum().to_numpy()
    return float(ordered.to_series()[int(np.argmax(2 * reached >= reached[-1]))])


def _usual_day(marked: pl.DataFrame, bakes: pl.DataFrame, line: Line) -> int | None:
    """Day on shelf on which most units are reduced, by their bake dates; without any, the only
    one that the bakes explain."""
    dated = marked.drop_nulls("bake_date")
    if not dated.is_empty():
        age = (pl.col("date") - pl.col("bake_date")).dt.total_days() + 1
        by_age = dated.group_by(age=age).agg(pl.col("units").sum()).sort("units", "age")
        day = int(by_age["age"][-1])
        return day if day <= line.shelf_life_days else None
    days, baked = set(marked["date"]), set(bakes["date"])
    explained = [
        age + 1
        for age in range(line.shelf_life_days)
        if days and sum(day - timedelta(days=age) in baked for day in days) >= _SAME_AGE * len(days)
    ]
    return explained[0] if len(explained) == 1 else None
