"""The tables that a records folder may hold, and the rules that a row must keep.

`file` and `row` say where a row was read, so that every later finding can point at it; `rows`
says how many rows of the file it sums (a till may write one for each ticket).
"""

from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path
from typing import Self

import dataframely as dy
import polars as pl

from shrinkwise.profile.store import Store
from shrinkwise.records.findings import NOT_READ, WANT_A_LOOK, Suggestion

EVENT_KINDS = ("holiday", "school holiday", "promotion", "local event", "closed")


class LogRow(dy.Schema):
    """What every log row has."""

    file = dy.String(nullable=False)
    row = dy.Int64(nullable=False)
    rows = dy.Int64(nullable=False, min=1)
    date = dy.Date(nullable=False, min=date(2000, 1, 1), max=date(2100, 1, 1))


class Sales(LogRow):
    """Units and money through the till; negative units are returns."""

    product = dy.String(nullable=False)
    units = dy.Int64(nullable=False)
    net_sales = dy.Float64(nullable=False)
    hour = dy.Int64(nullable=True, min=0, max=23)
    reduced = dy.Bool(nullable=True)

    @dy.rule()
    def price_not_negative(cls) -> pl.Expr:  # noqa: N805
        return (cls.units.col * cls.net_sales.col) >= 0


class Markdowns(LogRow):
    """Units relabelled at a reduced price."""

    product = dy.String(nullable=False)
    units = dy.Int64(nullable=False, min=0)
    unit_price = dy.Float64(nullable=False, min=0)
    bake_date = dy.Date(nullable=True)

    @dy.rule()
    def baked_before(cls) -> pl.Expr:  # noqa: N805
        return cls.bake_date.col <= cls.date.col


class Disposals(LogRow):
    """Units that left the shelf unsold."""

    product = dy.String(nullable=False)
    units = dy.Int64(nullable=False, min=0)
    reason = dy.String(nullable=True)
    bake_date = dy.Date(nullable=True)

    @dy.rule()
    def baked_before(cls) -> pl.Expr:  # noqa: N805
        return cls.bake_date.col <= cls.date.col


class Bakes(LogRow):
    """Units baked."""

    product = dy.String(nullable=False)
    units = dy.Int64(nullable=False, min=0)


class Counts(LogRow):
    """Units left after close, once the units on their last day are taken off."""

    product = dy.String(nullable=False)
    units = dy.Int64(nullable=False, min=0)
    bake_date = dy.Date(nullable=True)


class Events(LogRow):
    """What made, or will make, a day unlike others; no product means the whole store."""

    product = dy.String(nullable=True)
    kind = dy.Enum(EVENT_KINDS, nullable=False)
    unit_price = dy.Float64(nullable=True, min=0)


SCHEMAS: dict[str, type[LogRow]] = {
    "sales": Sales,
    "markdowns": Markdowns,
    "disposals": Disposals,
    "bakes": Bakes,
    "counts": Counts,
    "events": Events,
}

OPTIONAL_COLUMNS: dict[str, tuple[str, ...]] = {
    "sales": ("hour", "reduced"),
    "markdowns": ("bake_date",),
    "disposals": ("reason", "bake_date"),
    "bakes": (),
    "counts": ("bake_date",),
    "events": ("product", "unit_price"),
}

SUMMED: dict[str, tuple[str, ...]] = {
    "sales": ("units", "net_sales"),
    "markdowns": ("units",),
    "disposals": ("units",),
    "bakes": ("units",),
    "counts": ("units",),
    "events": (),
}
"""Columns that add up where all others of a row are the same."""

FLAGS: dict[str, tuple[str, ...]] = {"sales": ("void",)}
"""Columns that are read to leave rows out and then dropped."""

FILE_SCHEMA: dict[str, type[pl.DataType]] = {
    "file": pl.String,
    "table": pl.String,
    "rows_read": pl.Int64,
    "rows_used": pl.Int64,
    "rows_set_aside": pl.Int64,
    "rows_replaced": pl.Int64,
}


def house_columns(table: str) -> list[str]:
    """Column names of a table in their order, without where the row was read."""
    return [name for name in SCHEMAS[table].column_names() if name not in ("file", "row", "rows")]


@dataclass(frozen=True)
class Records:
    """A records folder, read and checked.

    Attributes
    ----------
    sales, markdowns, disposals, bakes, counts, events : polars.DataFrame
        The good rows of each table, summed where all but `SUMMED` columns are the same; empty
        when the folder has no such table.
    problems : polars.DataFrame
        One row per finding: severity, file, row, column, value, rule, what_to_do, rows.
    files : polars.DataFrame
        One row per file or sheet: file, table, rows_read, rows_used, rows_set_aside,
        rows_replaced. Rows read = used + set aside + replaced.
    suggestions : tuple of Suggestion
        Lines for store.toml that would answer the reader's open questions.
    profile : Store
    folder : pathlib.Path
    fingerprint : str
        SHA-256 of the names and bytes of all files read.
    """

    sales: pl.DataFrame
    markdowns: pl.DataFrame
    disposals: pl.DataFrame
    bakes: pl.DataFrame
    counts: pl.DataFrame
    events: pl.DataFrame
    problems: pl.DataFrame
    files: pl.DataFrame
    suggestions: tuple[Suggestion, ...]
    profile: Store
    folder: Path = field(compare=False)
    fingerprint: str

    @property
    def first_date(self) -> date:
        """First day with a sale."""
        first = self.sales["date"].min()
        assert isinstance(first, date)
        return first

    @property
    def last_date(self) -> date:
        """Last day with a sale."""
        last = self.sales["date"].max()
        assert isinstance(last, date)
        return last

    @property
    def closed_dates(self) -> frozenset[date]:
        """Dates on which an event says that the whole store is closed."""
        closed = self.events.filter(pl.col("kind") == "closed", pl.col("product").is_null())
        return frozenset(closed["date"])

    @property
    def want_a_look(self) -> pl.DataFrame:
        """The findings that the store should see to."""
        return self.problems.filter(pl.col("severity").is_in(WANT_A_LOOK))

    def with_problems(self, more: pl.DataFrame, suggestions: tuple[Suggestion, ...] = ()) -> Self:
        """These records with further findings, and with settings that would answer them."""
        return replace(
            self,
            problems=pl.concat([self.problems, more]),
            suggestions=(*self.suggestions, *suggestions),
        )

    @property
    def not_read(self) -> tuple[str, ...]:
        """Files and sheets that could not be used at all."""
        files = self.problems.filter(pl.col("severity") == NOT_READ)["file"]
        return tuple(files.unique().sort())
