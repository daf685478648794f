"""What reads well and still looks wrong: days that cannot have gone as the logs have it.

Rows in doubt are used; only the store can say what happened.
"""

from collections.abc import Iterator
from datetime import date, timedelta
from itertools import pairwise

import numpy as np
import polars as pl
from numpy.typing import NDArray

from shrinkwise.profile.weekdays import WEEKDAYS
from shrinkwise.records.findings import DOUBT, Suggestion, doubt, finding, no_findings
from shrinkwise.records.ledger import stock_ledger
from shrinkwise.records.markdowns import impossible_markdowns
from shrinkwise.records.on_sale import ended_lines
from shrinkwise.records.reductions import (
    unset_doubts,
    unset_reductions,
    unset_suggestions,
)
from shrinkwise.records.single_orders import single_orders
from shrinkwise.records.tables import Records

NEIGHBOUR_WEEKS = 6
LEAST_EXPECTED = 5.0
"""Units a day below which a day without a sale is nothing unusual."""

SPREAD = 0.05
"""Dispersion of daily sales that is taken for granted when a high day is judged."""

SIGMAS = 3.5
"""Standard deviations above the usual. Two days booked on one are seen from about 40 units a day,
three from 10; four sample stores of two years raise no false alarm."""


def doubtful(records: Records) -> tuple[pl.DataFrame, tuple[Suggestion, ...]]:
    """Findings of severity "doubt" about the good rows of all tables, and settings that answer
    some of them."""
    by_day = records.sales.group_by("product", "date").agg(pl.col("units").sum())
    ledgers = stock_ledger(records)
    unset = unset_reductions(records, ledgers)
    found = pl.concat(
        [
            no_findings(),
            *_before_introduction(records),
            *_days_without_sales(records),
            *_sales_when_closed(records),
            *_booked_together(records, by_day),
            *_single_orders(records, by_day),
            *_net_returns(records, by_day),
            *_impossible_disposals(records),
            *impossible_markdowns(records, ledgers),
            *unset_doubts(unset),
            *ended_lines(ledgers),
        ]
    )
    return found, unset_suggestions(unset)


def _before_introduction(records: Records) -> Iterator[pl.DataFrame]:
    for line in records.profile.lines:
        if line.introduced is None:
            continue
        early = records.sales.filter(
            (pl.col("product") == line.name) & (pl.col("date") < line.introduced)
        )
        if not early.is_empty():
            yield doubt(
                early,
                f"is sold before {line.introduced}, when it was introduced",
                "Correct introduced in store.toml, or take out the rows if they are of another "
                "product with the same code.",
                "product",
                line.name,
            )


def _days_without_sales(records: Records) -> Iterator[pl.DataFrame]:
    sold = set(records.sales["date"].unique())
    closed = records.closed_dates
    missing = [
        day
        for day in _days(records)
        if day not in sold
        and day not in closed
        and WEEKDAYS[day.weekday()] in records.profile.open_days
    ]
    for first, last in _runs(missing):
        yield finding(
            DOUBT,
            "sales",
            "has no sale of any line, and no event says that the store was closed",
            "Add a row of kind closed to events.csv, or export the sales of the missing days.",
            column="date",
            value=f"{first}" if first == last else f"{first} to {last}",
        )


def _sales_when_closed(records: Records) -> Iterator[pl.DataFrame]:
    closed = records.sales.filter(
        (pl.col("units") > 0) & pl.col("date").is_in(list(records.closed_dates))
    )
    for (day,), rows in closed.group_by("date", maintain_order=True):
        yield doubt(
            rows,
            "has sales, although an event says that the store was closed",
            "Take the event out, or correct the date of the sales.",
            "date",
            str(day),
        )


def _booked_together(records: Records, by_day: pl.DataFrame) -> Iterator[pl.DataFrame]:
    """Days without a sale, and then a day that sells for all of them."""
    days = _days(records)
    closed = records.closed_dates
    of_store = np.zeros(len(days), np.int64)
    index = {day: place for place, day in enumerate(days)}
    by_line: list[tuple[str, NDArray[np.int64]]] = []
    of_line = by_day.partition_by("product", as_dict=True)
    for line in records.profile.lines:
        rows = of_line.get((line.name,), by_day.head(0))
        units = np.zeros(len(days), np.int64)
        np.add.at(units, [index[day] for day in rows["date"]], rows["units"].to_numpy())
        of_store += units
        by_line.append((line.name, units))
    meant_open = np.array(
        [WEEKDAYS[day.weekday()] in records.profile.open_days and day not in closed for day in days]
    )
    whole_store = _bulked(of_store, meant_open)
    for first, last in whole_store:
        yield _together(records.sales, days[first], days[last], "all lines")
    is_open = meant_open & (of_store > 0)
    for name, units in by_line:
        for first, last in _bulked(units, is_open):
            rows = records.sales.filter(pl.col("product") == name)
            yield _together(rows, days[first], days[last], name)


def _together(rows: pl.DataFrame, first: date, last: date, name: str) -> pl.DataFrame:
    return doubt(
        rows.filter(pl.col("date") == last),
        f"looks like the sales of all days from {first} on, booked on one",
        "Book them on their own days, or live with a demand that looks more uneven than it is.",
        "date",
        f"{last}, {name}",
    )


def _bulked(units: NDArray[np.int64], is_open: NDArray[np.bool_]) -> Iterator[tuple[int, int]]:
    """First day without a sale and the day on which it all was booked, as places."""
    sold = np.flatnonzero(units > 0)
    for before, day in pairwise(sold):
        gap = [place for place in range(before + 1, day) if is_open[place]]
        if not gap or len(gap) > 7:
            continue
        usual = [_usual(units, place) for place in (*gap, int(day))]
        if min(usual) < LEAST_EXPECTED:
            continue
        alone, together = usual[-1], sum(usual)
        high = alone + SIGMAS * np.sqrt(alone + SPREAD * alone**2)
        if units[day] > high and 0.6 * together < units[day] < 1.6 * together:
            yield gap[0], int(day)


def _usual(units: NDArray[np.int64], place: int) -> float:
    """Median of the same weekday's sales in the weeks around; 0 where there are too few.

    Days before the first sale are none of the line's.
    """
    first = int(np.argmax(units > 0))
    around = [place + 7 * week for week in range(-NEIGHBOUR_WEEKS, NEIGHBOUR_WEEKS + 1) if week]
    seen = [units[near] for near in around if first <= near < len(units)]
    return float(np.median(seen)) if len(seen) >= 3 else 0.0


def _single_orders(records: Records, by_day: pl.DataFrame) -> Iterator[pl.DataFrame]:
    for (name,), days in by_day.sort("date").group_by("product", maintain_order=True):
        large = days.filter(single_orders(days["units"].to_numpy()))
        for day, units in large.select("date", "units").iter_rows():
            rows = records.sales.filter((pl.col("date") == day) & (pl.col("product") == name))
            yield doubt(
                rows,
                f"is so much more than on its good days that {day} is taken for a single order, "
                "which is left out of its demand",
                "Nothing, if it was one; otherwise correct the units.",
                "units",
                f"{units}, {name}",
            )


def _net_returns(records: Records, by_day: pl.DataFrame) -> Iterator[pl.DataFrame]:
    net = by_day.filter(pl.col("units") < 0).sort("date", "product")
    for name, day, units in net.select("product", "date", "units").iter_rows():
        rows = records.sales.filter((pl.col("date") == day) & (pl.col("product") == name))
        yield doubt(
            rows.filter(pl.col("units") < 0),
            f"has more returned than sold on {day}",
            "Correct the sign if these were sales; a return may also belong to an earlier day.",
            "units",
            f"{units}, {name}",
        )


def _impossible_disposals(records: Records) -> Iterator[pl.DataFrame]:
    """More thrown than the bakes within a shelf life, a day of grace for late logging given."""
    for line in records.profile.lines:
        bakes = records.bakes.filter(pl.col("product") == line.name)
        thrown = records.disposals.filter(pl.col("product") == line.name)
        if bakes.is_empty() or thrown.is_empty():
            continue
        baked = dict(bakes.group_by("date").agg(pl.col("units").sum()).iter_rows())
        since = min(baked) + timedelta(days=line.shelf_life_days)
        by_day = thrown.group_by("date").agg(pl.col("units").sum()).sort("date")
        for day, units in by_day.filter(pl.col("date") >= since).iter_rows():
            most = sum(
                baked.get(day - timedelta(days=age), 0) for age in range(line.shelf_life_days + 1)
            )
            if units > most:
                yield doubt(
                    thrown.filter(pl.col("date") == day),
                    f"is more than the {most} that were baked within its shelf life",
                    "Correct the units, or add the bakes that are missing.",
                    "units",
                    f"{units}, {line.name}",
                )


def _days(records: Records) -> list[date]:
    first, last = records.first_date, records.last_date
    return [first + timedelta(days=day) for day in range((last - first).days + 1)]


def _runs(days: list[date]) -> Iterator[tuple[date, date]]:
    start = None
    for place, day in enumerate(days):
        start = start or day
        if place + 1 == len(days) or days[place + 1] != day + timedelta(days=1):
            yield start, day
            start = None
