"""Excel workbooks and Parquet files as sheets of text cells."""

import re
import zipfile
from io import BytesIO
from pathlib import Path

import fastexcel
import polars as pl

from shrinkwise.records.content import UnreadableFileError, check_zip
from shrinkwise.records.sheet import HEAD_ROWS, MOST_COLUMNS, Sheet, cell_names, sheet_of

MOST_CELLS, MOST_EMPTY_CELLS, LEAST_FULL = 60_000_000, 10_000_000, 20
"""A stray cell in a far corner would make a sheet of more cells than a machine can hold. Beyond
`MOST_EMPTY_CELLS` one in `LEAST_FULL` must be there."""


DAMAGED = (pl.exceptions.PolarsError, pl.exceptions.PanicException)
"""What polars raises when the bytes of a file are not what they should be."""


def open_workbook(path: Path, largest_mb: int) -> tuple[list[Sheet], list[str]]:
    """The visible sheets of an Excel workbook, and the names of the hidden ones.

    Raises
    ------
    TooLargeError, UnreadableFileError
    """
    data = path.read_bytes()
    check_zip(data, largest_mb)
    _check_extent(data)
    try:
        book = fastexcel.read_excel(data)
        loaded = [
            book.load_sheet(name, header_row=None, skip_rows=0, dtypes="string")
            for name in book.sheet_names
        ]
    except fastexcel.FastExcelError as error:
        raise UnreadableFileError(
            "cannot be read as an Excel workbook", "Save it again as .xlsx, or export a CSV."
        ) from error
    shown = [sheet for sheet in loaded if sheet.visible == "visible" and sheet.height]
    hidden = [sheet.name for sheet in loaded if sheet.visible != "visible"]
    several = len(loaded) > 1
    sheets = [
        sheet_of(f"{path.name} [{sheet.name}]" if several else path.name, sheet.to_polars(), 1)
        for sheet in shown
    ]
    return sheets, hidden


def _check_extent(data: bytes) -> None:
    """Refuse a sheet whose last row and last column span more cells than can be held."""
    with zipfile.ZipFile(BytesIO(data)) as archive:
        for entry in archive.namelist():
            if not entry.startswith("xl/worksheets/"):
                continue
            xml = archive.read(entry)
            columns = set(re.findall(rb"""r\s*=\s*["']([A-Za-z]+)[0-9]""", xml))
            width = max(map(_column_number, columns), default=1)
            # one search for a row too far down is quicker than the numbers of all cells
            n_there = xml.count(b"<c") + xml.count(b":c")
            most = min(MOST_CELLS, max(MOST_EMPTY_CELLS, LEAST_FULL * n_there))
            below = _more_than(most // width).encode()
            far = re.search(rb"""r\s*=\s*["'][A-Za-z]*0*(%s)["']""" % below, xml)
            if far or width > MOST_COLUMNS:
                where = f"down to row {far[1].decode()}" if far else f"out to column {width}"
                raise UnreadableFileError(
                    f"has cells far from its table, {where}",
                    "Delete the empty rows and columns below and beside the table in Excel, then "
                    "save it again.",
                )


def _more_than(limit: int) -> str:
    """A pattern of the whole numbers above a limit."""
    digits = str(limit)
    higher = [
        f"{digits[:place]}[{int(digit) + 1}-9][0-9]{{{len(digits) - place - 1}}}"
        for place, digit in enumerate(digits)
        if digit != "9"
    ]
    return "|".join([*higher, f"[1-9][0-9]{{{len(digits)},}}"])


def _column_number(letters: bytes) -> int:
    number = 0
    for letter in letters.upper():
        number = 26 * number + letter - ord("A") + 1
    return number


def open_parquet(path: Path) -> Sheet:
    """The table of a Parquet file; its column names stand in row 1.

    Raises
    ------
    UnreadableFileError
    """
    try:
        table = pl.scan_parquet(path, glob=False)
        schema = table.collect_schema()
        if len(schema) > MOST_COLUMNS:
            raise UnreadableFileError(
                f"has more than {MOST_COLUMNS} columns", "Export it again, one column a kind."
            )
        plain = {
            name: pl.col(name).cast(pl.String)
            if not kind.is_nested() and kind not in (pl.Binary, pl.Object)
            else pl.lit(None, pl.String).alias(name)
            for name, kind in schema.items()
        }
        texts = table.select(
            expression.alias(cell)
            for cell, expression in zip(cell_names(len(plain)), plain.values(), strict=True)
        )
        head = texts.head(HEAD_ROWS).collect()
    except (*DAMAGED, OSError) as error:
        raise UnreadableFileError(
            "cannot be read as Parquet; it may be half-copied", "Copy or export it again."
        ) from error
    numbered = texts.with_row_index("row", offset=2).with_columns(beyond=pl.lit(None, pl.String))
    rows = [list(schema), *(list(row) for row in head.iter_rows())]
    return Sheet(path.name, numbered, rows, typed=True)
