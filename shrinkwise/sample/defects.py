"""An export of one log with defects planted in it, each known by its place."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import date
from typing import Any

import polars as pl

SET_ASIDE = "set aside"
GUESS = "guess"
NOTE = "note"
DOUBT = "doubt"
NOT_READ = "not read"
REPLACED = "replaced"
"""What a checker has to make of a defect: see the severities of the findings."""

Cells = dict[str, str]


@dataclass(frozen=True)
class Defect:
    """One planted defect.

    Attributes
    ----------
    name : str
        What kind of trouble it is, in snake words; no two have the same.
    file : str
        The file in which it stands, or the table where no one file is at fault.
    row : int or None
        Row as a spreadsheet counts it, from 1, title rows and blank rows included; None where
        the file as a whole is meant.
    column : str
        The house's name of the column, the header itself in a wide layout, or "" for the row
        or the file as a whole.
    severity : str
        What a checker has to make of it.
    recoverable : bool
        The logs without what has to be set aside are those of the clean sample; where it is
        False, something that the store knew is lost.
    """

    name: str
    file: str
    row: int | None
    column: str
    severity: str
    recoverable: bool = True


@dataclass
class ExportRow:
    """One row of an export.

    Attributes
    ----------
    day, product : date and str or None
        What the clean row is about, to find it by.
    cells : dict of str to str
        By house column.
    planted : tuple of (str, str, str, bool) or None
        Name, column, severity and recoverable of the defect that the row is.
    beyond : tuple of str
        Cells behind the last column.
    """

    day: date
    product: str | None
    cells: Cells
    planted: tuple[str, str, str, bool] | None = None
    beyond: tuple[str, ...] = ()


@dataclass
class Export:
    """A log as one file, row by row, open to be spoilt.

    Attributes
    ----------
    file : str
    head : list of list of str
        Title rows and the header.
    columns : tuple of str
        House columns in the order of the file.
    rows : list of ExportRow
    """

    file: str
    head: list[list[str]]
    columns: tuple[str, ...]
    rows: list[ExportRow] = field(default_factory=list)

    @classmethod
    def of(
        cls,
        file: str,
        table: pl.DataFrame,
        headers: dict[str, str],
        cells: Callable[[dict[str, Any]], Cells],
        titles: Iterable[list[str]] = (),
    ) -> "Export":
        """The export of a clean table.

        Parameters
        ----------
        file : str
        table : polars.DataFrame
        headers : dict of str to str
            The header of each house column, in the order of the file.
        cells : callable
            Writes one clean row in the file's own way.
        titles : iterable of list of str
            Rows above the header.
        """
        rows = [ExportRow(r["date"], r["product"], cells(r)) for r in table.iter_rows(named=True)]
        return cls(file, [*titles, list(headers.values())], tuple(headers), rows)

    def place(self, line: str, since: date) -> int:
        """Place of the first row of a line on or after a day.

        Raises
        ------
        LookupError
            When the line has no row from that day on.
        """
        for place, row in enumerate(self.rows):
            if row.product == line and row.day >= since:
                return place
        raise LookupError(f"{self.file} has no row of {line} from {since} on")

    def insert(
        self,
        name: str,
        column: str,
        line: str,
        since: date,
        severity: str = SET_ASIDE,
        recoverable: bool = True,
        /,
        *,
        beyond: tuple[str, ...] = (),
        **cells: str,
    ) -> None:
        """Plant a row of its own behind a clean one, as if typed once more with a fault.

        Parameters
        ----------
        name, column, severity : str
        recoverable : bool
        line : str
        since : date
            The row goes behind the first one of the line on or after this day.
        beyond : tuple of str
        **cells : str
            Cells that differ from the clean row's.
        """
        at = self.place(line, since)
        clean = self.rows[at]
        planted = (name, column, severity, recoverable)
        self.rows.insert(
            at + 1, ExportRow(clean.day, clean.product, clean.cells | cells, planted, beyond)
        )

    def change(
        self,
        name: str,
        column: str,
        line: str,
        since: date,
        severity: str,
        recoverable: bool = True,
        /,
        **cells: str,
    ) -> None:
        """Plant a defect in a clean row itself; parameters as for `insert`."""
        row = self.rows[self.place(line, since)]
        row.cells = row.cells | cells
        row.planted = (name, column, severity, recoverable)

    @property
    def lines(self) -> list[list[str]]:
        """The file, row by row and cell by cell."""
        return self.head + [
            [*(row.cells.get(column, "") for column in self.columns), *row.beyond]
            for row in self.rows
        ]

    @property
    def defects(self) -> list[Defect]:
        """What was planted, each with its row."""
        first = len(self.head) + 1
        return [
            Defect(row.planted[0], self.file, number, *row.planted[1:])
            for number, row in enumerate(self.rows, start=first)
            if row.planted
        ]
