"""The cells of a sheet as log rows, and the rows summed where all but amounts are the same.

A year of tickets holds few different rows: they are summed while the file is read, so that
everything after works on what differs. Amounts are read here in the plainest way only; rows
that need more are counted as left over and looked at again.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import polars as pl

from shrinkwise.records.dates import day_text, has_time, hour_of
from shrinkwise.records.layout import Layout
from shrinkwise.records.numbers import Mark, number
from shrinkwise.records.sheet import Sheet, cell_names
from shrinkwise.records.tables import FLAGS, SUMMED, house_columns

MOST_UNITS = 1_000_000_000
MINOR_DIGITS = 4
MINOR = 10**MINOR_DIGITS
"""Money is summed as whole numbers of this part, so that the order of rows cannot matter."""

DATE_COLUMNS = ("date", "bake_date")


def key_columns(table: str) -> list[str]:
    """Columns of a table, flags included, that must be the same where rows are summed."""
    columns = (*house_columns(table), *FLAGS.get(table, ()))
    return [column for column in columns if column not in SUMMED[table]]


def clean_texts(rows: pl.DataFrame, columns: list[str]) -> Iterator[pl.Expr]:
    """Texts without space around them, null where nothing is left; moments cut to their day."""
    for column in columns:
        cell = pl.col(column).str.strip_chars().replace("", None)
        if column in DATE_COLUMNS:
            texts = rows[column].drop_nulls().unique()
            days = pl.select(day_text(pl.lit(texts))).to_series()
            cell = pl.col(column).replace(texts, days).str.strip_chars().replace("", None)
        yield cell.alias(column)


def long_cells(sheet: Sheet, layout: Layout, table: str) -> pl.LazyFrame:
    """Every log row of a sheet, with or without content.

    Returns
    -------
    polars.LazyFrame
        row; `too_wide`, whether it holds more cells than the header; and as texts the columns of
        the table that the sheet has.
    """
    below = sheet.cells.filter(pl.col("row") > layout.row)
    names = cell_names(sheet.width)
    last = max(layout.headers)
    extra = [pl.col(name) for name in (*names[last + 1 :], "beyond")]
    # most rows end with the header: only what is there is looked at
    too_wide = pl.any_horizontal(cell.is_not_null() & cell.str.contains(r"\S") for cell in extra)
    fixed = [
        pl.col(names[layout.columns[column]]).alias(column)
        for column in (*house_columns(table), *FLAGS.get(table, ()))
        if column in layout.columns
    ]
    lead = [
        pl.col("row").cast(pl.Int64),
        (too_wide.fill_null(False) if sheet.shifts else pl.lit(False)).alias("too_wide"),
    ]
    if not layout.spread_over:
        long = below.select(*lead, *fixed)
    else:
        spread = {names[index]: header for index, header in layout.spread.items()}
        long = (
            below.select(*lead, *fixed, *spread)
            .unpivot(
                list(spread),
                index=["row", "too_wide", *(expr.meta.output_name() for expr in fixed)],
                variable_name=layout.spread_over,
                value_name="units",
            )
            .filter(pl.col("units").str.strip_chars().str.len_bytes() > 0)
            .with_columns(pl.col(layout.spread_over).replace_strict(spread, return_dtype=pl.String))
        )
    return _with_hours(long, sheet, layout, table)


def _with_hours(long: pl.LazyFrame, sheet: Sheet, layout: Layout, table: str) -> pl.LazyFrame:
    """Moments cut to days; where a till stamps tickets, the hour is kept."""
    place = layout.columns.get("date")
    if place is None:
        return long
    texts = [row[place] for row in sheet.head[layout.row :] if place < len(row)]
    seen = pl.Series([text for text in texts if text], dtype=pl.String)
    if not has_time(seen):
        return long
    cell = pl.col("date")
    if table == "sales" and "hour" not in layout.columns:
        long = long.with_columns(hour=hour_of(cell).cast(pl.String))
    return long.with_columns(date=day_text(cell))


@dataclass(frozen=True)
class Groups:
    """Rows of a sheet summed where all but amounts are the same.

    Attributes
    ----------
    table : polars.DataFrame
        The key columns as they stand; `row`, the first of the group; `n` rows, of which `plain`
        had amounts that could be read at once and are summed in the `SUMMED` columns, money in
        parts of `MINOR`. In the order of the file.
    cells : polars.LazyFrame
        The rows themselves.
    """

    table: pl.DataFrame
    cells: pl.LazyFrame
    plain: pl.Expr

    def left_over(self) -> pl.DataFrame:
        """The rows whose amounts could not be read at once, as texts in all columns."""
        rows = self.cells.filter(~self.plain).collect().sort("row", maintain_order=True)
        absent = [name for name in self.table.columns if name not in rows.columns]
        keys = [name for name in absent if self.table[name].dtype == pl.String]
        return rows.with_columns(pl.lit(None, pl.String).alias(key) for key in keys)


def grouped(cells: pl.LazyFrame, table: str, mark: Mark | None, is_wide: bool) -> Groups:
    """Sum the rows whose amounts are plain.

    Parameters
    ----------
    cells : polars.LazyFrame
        From `long_cells`.
    table : str
    mark : Mark or None
        Decimal mark of the sheet; None as long as no number has shown one.
    is_wide : bool
        Several groups may begin in the same row.
    """
    held = set(cells.collect_schema().names())
    keys = [key for key in key_columns(table) if key in held]
    sums = [name for name in SUMMED[table] if name in held]
    value = {name: _plain_value(pl.col(name), mark) for name in sums}
    # step by step, so that no text is turned into a number twice
    amounts = (
        cells.select("row", "too_wide", *keys, **value)
        .with_columns(plain=_is_plain({name: pl.col(name) for name in sums}, table))
        .with_columns(
            pl.when("plain")
            .then((pl.col(name) * MINOR).round() if name == "net_sales" else name)
            .cast(pl.Int64, strict=False)
            .alias(name)
            for name in sums
        )
    )
    summed = (
        amounts.group_by(keys)
        .agg(
            pl.col("row").min(),
            pl.len().cast(pl.Int64).alias("n"),
            pl.col("plain").sum().cast(pl.Int64),
            *(pl.col(name).sum() for name in sums),
        )
        .collect(engine="streaming")
        .sort("row", *(keys if is_wide else ()), maintain_order=True)
        .with_columns(
            pl.lit(None, pl.String).alias(key) for key in key_columns(table) if key not in held
        )
    )
    return Groups(summed, cells, _is_plain(value, table))


def _is_plain(value: dict[str, pl.Expr], table: str) -> pl.Expr:
    """Whether the amounts of a row are read and keep the rules of their table."""
    plain = ~pl.col("too_wide")
    if "units" in value:
        units = value["units"]
        plain = plain & (units.abs() < MOST_UNITS) & (units % 1 == 0)
        if table != "sales":
            plain = plain & (units >= 0)
    if "net_sales" in value:
        net = value["net_sales"]
        plain = plain & (net.abs() < MOST_UNITS) & (value["units"] * net >= 0)
    return plain.fill_null(False)


def _plain_value(cell: pl.Expr, mark: Mark | None) -> pl.Expr:
    if mark == ",":
        return number(cell, mark)
    return cell.cast(pl.Float64 if mark == "." else pl.Int64, strict=False)
