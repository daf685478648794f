"""Excel workbooks and Parquet files as sheets of text cells."""

import re
import zipfile
from dataclasses import replace
from io import BytesIO
from pathlib import Path

import fastexcel
import polars as pl
import pyarrow
from pyarrow import parquet, types

from shrinkwise.records.content import TooLargeError, UnreadableFileError, check_zip
from shrinkwise.records.sheet import MOST_COLUMNS, Sheet, cell_names, sheet_of

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


def open_parquet(path: Path, largest_mb: int) -> Sheet:
    """The table of a Parquet file; its column names stand in row 1.

    pyarrow reads it: a damaged page is an error there, and the end of the process in polars.

    Raises
    ------
    TooLargeError, UnreadableFileError
    """
    try:
        with parquet.ParquetFile(path) as file:
            names, meta = file.schema_arrow.names, file.metadata
            groups = (meta.row_group(index).total_byte_size for index in range(meta.num_row_groups))
            if sum(groups) > largest_mb * 1_000_000:
                raise TooLargeError
            if len(names) > MOST_COLUMNS:
                raise UnreadableFileError(
                    f"has more than {MOST_COLUMNS} columns", "Export it again, one column a kind."
                )
            columns = [_texts(column) for column in file.read().columns]
        texts = pl.DataFrame(dict(zip(cell_names(len(columns)), columns, strict=True)))
    except (pyarrow.ArrowException, *DAMAGED, OSError, ValueError) as error:
        raise UnreadableFileError(
            "cannot be read as Parquet; it may be half-copied", "Copy or export it again."
        ) from error
    sheet = sheet_of(path.name, texts, first_row=2, typed=True)
    return replace(sheet, head=[list(names), *sheet.head[1:]])


def _texts(column: pyarrow.ChunkedArray) -> pl.Series:
    """A column as texts; lists and the like are no cells."""
    kind = column.type
    if types.is_nested(kind) or types.is_binary(kind) or types.is_large_binary(kind):
        return pl.Series([None] * len(column), dtype=pl.String)
    series = pl.from_arrow(column.cast(pyarrow.large_string()))
    assert isinstance(series, pl.Series)
    return series
