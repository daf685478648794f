"""The tables that a records folder may hold, and the rules that a row must keep.

`file` and `row` say where a row was read, so that every later finding can point at it.
"""

from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

import dataframely as dy
import polars as pl

from shrinkwise.profile.store import Store

EVENT_KINDS = ("holiday", "promotion", "local event", "closed")


class LogRow(dy.Schema):
    """What every log row has."""

    file = dy.String(nullable=False)
    row = dy.Int64(nullable=False)
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

PROBLEM_SCHEMA = {
    "severity": pl.String,
    "file": pl.String,
    "row": pl.Int64,
    "column": pl.String,
    "value": pl.String,
    "rule": pl.String,
    "what_to_do": pl.String,
}


def house_columns(table: str) -> list[str]:
    """Column names of a table in their order, without where the row was read."""
    return [name for name in SCHEMAS[table].column_names() if name not in ("file", "row")]


@dataclass(frozen=True)
class Records:
    """A records folder, read and checked.

    Attributes
    ----------
    sales, markdowns, disposals, bakes, counts, events : polars.DataFrame
        The good rows of each table; empty when the folder has no such table.
    problems : polars.DataFrame
        One row per finding: severity, file, row, column, value, rule, what_to_do.
    files : polars.DataFrame
        One row per file read: file, table, rows_read, rows_used, rows_set_aside.
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
