"""Markdown rows that cannot be: of more than was on the shelf, or to a price that is none."""

from collections.abc import Iterator
from datetime import timedelta

import numpy as np
import polars as pl

from shrinkwise.profile.line import Line
from shrinkwise.records.findings import doubt
from shrinkwise.records.ledger import LineLedger
from shrinkwise.records.tables import Records

NEXT_TO_NOTHING = 0.05
"""Share of the price below which a reduced price is taken for a slip (common practice, no
source)."""

_ROUNDING = 0.999
"""Of a mean price paid, so that cents lost in it do no harm."""

_TO_CORRECT = (
    "Correct unit_price: it is the reduced price of one unit, not that of the row, nor what was "
    "taken off."
)


def impossible_markdowns(
    records: Records, ledgers: dict[str, LineLedger]
) -> Iterator[pl.DataFrame]:
    """Markdowns of more than there was, or to a price that is none; one doubt a line and fault."""
    for (name,), rows in records.markdowns.group_by("product", maintain_order=True):
        line = records.profile.line(str(name))
        if (ledger := ledgers.get(line.name)) is not None and not ledger.bakes_inferred:
            yield from _more_than_there_was(rows, ledger)
        full = _with_full_price(rows, records.sales, line)
        yield from _wrong_price(
            full.filter(pl.col("unit_price") >= _ROUNDING * pl.col("full")),
            "is not below the full price",
            line,
        )
        yield from _wrong_price(
            rows.filter(pl.col("unit_price") < NEXT_TO_NOTHING * line.price),
            f"is next to nothing, less than {NEXT_TO_NOTHING:.0%} of the full price",
            line,
        )


def _more_than_there_was(rows: pl.DataFrame, ledger: LineLedger) -> Iterator[pl.DataFrame]:
    """Days on which the shelf never held so many, a day of grace for late logging given."""
    gone = ledger.sold + ledger.disposed_last_day + ledger.disposed_early + ledger.on_hand_close
    there = np.maximum(ledger.on_hand_open + ledger.baked, gone)
    there = np.maximum(there, np.append(0, there[:-1]))
    # before any batch of the log can be past its life, what was on the shelf is not known
    known = np.arange(len(there)) >= np.argmax(ledger.baked > 0) + ledger.line.shelf_life_days
    days = np.flatnonzero(known & (ledger.labelled > there))
    if not days.size:
        return
    first = int(days[0])
    wrong = [ledger.start + timedelta(days=int(day)) for day in days]
    also = f", and on {len(days) - 1} more days" if len(days) > 1 else ""
    yield doubt(
        rows.filter(pl.col("date").is_in(wrong)),
        f"is more than the {there[first]} that were on the shelf on {wrong[0]}{also}",
        "Correct the units, or add the bakes that are missing.",
        "units",
        f"{ledger.labelled[first]}, {ledger.line.name}",
    )


def _with_full_price(rows: pl.DataFrame, sales: pl.DataFrame, line: Line) -> pl.DataFrame:
    """Markdown rows with the full price of their day: the present one, or what was paid that day
    or last before it, where that was more."""
    paid = (
        sales.filter(
            pl.col("product") == line.name,
            pl.col("units") > 0,
            ~pl.col("reduced").fill_null(False),
        )
        .group_by("date")
        .agg(full=pl.col("net_sales").sum() / pl.col("units").sum())
        .sort("date")
    )
    return (
        rows.sort("date")
        .join_asof(paid, on="date")
        .with_columns(full=pl.max_horizontal("full", pl.lit(line.price)))
    )


def _wrong_price(rows: pl.DataFrame, rule: str, line: Line) -> Iterator[pl.DataFrame]:
    if not rows.is_empty():
        first = rows.sort("file", "row")["unit_price"][0]
        yield doubt(rows, rule, _TO_CORRECT, "unit_price", f"{first:.2f}, {line.name}")
