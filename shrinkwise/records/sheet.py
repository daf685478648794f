"""One table of a log file as it stands: every cell a text, every row with its place."""

from dataclasses import dataclass

import polars as pl

HEAD_ROWS = 200
"""Rows from which the layout of a sheet is read."""

MOST_COLUMNS = 16_384
"""Columns of the widest sheet that a spreadsheet can hold."""

Head = list[list[str | None]]


@dataclass(frozen=True)
class Sheet:
    """The cells of one table.

    Attributes
    ----------
    label : str
        The file's name, with the sheet's where a workbook has several.
    cells : polars.LazyFrame
        `row` as a spreadsheet counts it, from 1, and one text column c0, c1, ... for each column;
        a row that is longer than the widest of the head has the first cell beyond it in `beyond`.
    head : list of list of str or None
        The cells of the first `HEAD_ROWS` rows.
    typed : bool
        Numbers were numbers in the file, so that the text of each has a decimal point.
    shifts : bool
        A cell too many in a row may have shifted the others, as an unquoted delimiter does.
    """

    label: str
    cells: pl.LazyFrame
    head: Head
    typed: bool = False
    shifts: bool = False

    @property
    def width(self) -> int:
        """Columns of the head."""
        return max((len(row) for row in self.head), default=0)


def cell_names(width: int) -> list[str]:
    """Names of the text columns of a sheet of `width` columns."""
    return [f"c{index}" for index in range(width)]


def sheet_of(label: str, cells: pl.DataFrame, first_row: int, typed: bool = False) -> Sheet:
    """A sheet from text columns in memory.

    Parameters
    ----------
    label : str
    cells : polars.DataFrame
        Text columns in their order.
    first_row : int
        Row number of the first of them.
    typed : bool
    """
    named = cells.rename(dict(zip(cells.columns, cell_names(cells.width), strict=True)))
    head: Head = [[None] * cells.width for _ in range(first_row - 1)]
    head += [list(row) for row in named.head(HEAD_ROWS).iter_rows()]
    numbered = named.lazy().with_columns(
        pl.int_range(first_row, pl.len() + first_row).alias("row"),
        beyond=pl.lit(None, pl.String),
    )
    return Sheet(label, numbered, head, typed)
