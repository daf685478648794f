"""Text files with one row a line: delimiter, quotes and encoding are found out, not asked."""

import csv
from collections.abc import Callable, Iterator
from io import BytesIO, StringIO
from pathlib import Path

import polars as pl

from shrinkwise.records.content import UnreadableFileError, text_of, unpacked
from shrinkwise.records.sheet import HEAD_ROWS, MOST_COLUMNS, Head, Sheet, cell_names

DELIMITERS = (",", ";", "\t", "|")
Likeness = Callable[[Head], int]

_HEAD_BYTES = 1 << 18
_NO_LIMIT = 2**31 - 1
_LONGEST_CELL = 50
"""Lines of a quoted cell: a quotation mark that is open for longer was not meant as one."""


def open_delimited(path: Path, largest_mb: int, likeness: Likeness) -> Sheet:
    """The table in a delimited text file, gzipped or not.

    Plain UTF-8 is scanned where it lies. A scan that stumbles later on, over a byte of another
    encoding or a stray quote, is to be done again with `open_forgiving`.

    Parameters
    ----------
    path : Path
    largest_mb : int
    likeness : callable
        How many headers of the wanted table a head shows; the delimiter with the most wins.

    Raises
    ------
    TooLargeError, UnreadableFileError
    """
    if path.suffix.lower() == ".gz":
        return _in_memory(path, text_of(unpacked(path, largest_mb)), likeness)
    with path.open("rb") as file:
        start = file.read(_HEAD_BYTES)
    if len(start) == _HEAD_BYTES:
        start = start[: start.rfind(b"\n") + 1] or start
    try:
        text = start.decode("utf-8-sig")
    except UnicodeDecodeError:
        return _in_memory(path, text_of(path.read_bytes()), likeness)
    if "\0" in text or text.count("\r") > text.count("\r\n"):
        return _in_memory(path, text_of(path.read_bytes()), likeness)
    delimiter, head = _delimiter(text, likeness)
    return Sheet(path.name, _scan(path, delimiter, _width(head)), head, shifts=True)


def open_forgiving(path: Path, largest_mb: int, likeness: Likeness) -> Sheet:
    """The same table read cell by cell: any encoding, and stray quotes as a spreadsheet has them.

    Raises
    ------
    TooLargeError, UnreadableFileError
    """
    packed = path.suffix.lower() == ".gz"
    text = _clean(text_of(unpacked(path, largest_mb) if packed else path.read_bytes()))
    delimiter, head = _delimiter(text[:_HEAD_BYTES], likeness)
    names = [*cell_names(_width(head)), "beyond"]
    columns: list[list[str | None]] = [[] for _ in names]
    for row in _rows(text, delimiter):
        for index, column in enumerate(columns):
            column.append(row[index] if index < len(row) else None)
    schema = dict.fromkeys(names, pl.String)
    frame = pl.DataFrame(dict(zip(names, columns, strict=True)), schema=schema)
    return Sheet(path.name, frame.lazy().with_row_index("row", offset=1), head, shifts=True)


def _in_memory(path: Path, text: str, likeness: Likeness) -> Sheet:
    text = _clean(text)
    delimiter, head = _delimiter(text[:_HEAD_BYTES], likeness)
    cells = _scan(BytesIO(text.encode()), delimiter, _width(head))
    return Sheet(path.name, cells, head, shifts=True)


def _clean(text: str) -> str:
    return text.replace("\r\n", "\n").replace("\r", "\n").replace("\0", "")


def _width(head: Head) -> int:
    return max(len(row) for row in head)


def _delimiter(text: str, likeness: Likeness) -> tuple[str, Head]:
    """The delimiter under which the head looks most like the wanted table, then most even.

    Raises
    ------
    UnreadableFileError
        When there is no text, or no table in it.
    """
    if not text.strip():
        raise UnreadableFileError("is empty", "Export it again, or take it out of the folder.")
    there = [delimiter for delimiter in DELIMITERS if delimiter in text] or [DELIMITERS[0]]
    heads = {delimiter: _head(text, delimiter) for delimiter in there}

    def merit(delimiter: str) -> tuple[int, int]:
        widths = [len(row) for row in heads[delimiter] if len(row) > 1]
        usual = max(set(widths), key=widths.count, default=1)
        return likeness(heads[delimiter]), widths.count(usual)

    best = max(there, key=merit) if len(there) > 1 else there[0]
    if _width(heads[best]) > MOST_COLUMNS:
        raise UnreadableFileError(
            f"has a row of more than {MOST_COLUMNS} cells", "Export it again, one record a line."
        )
    return best, heads[best]


def _head(text: str, delimiter: str) -> Head:
    rows: Head = []
    for row in _rows(text, delimiter):
        rows.append([cell.strip() or None for cell in row])
        if len(rows) == HEAD_ROWS:
            break
    return rows


def _rows(text: str, delimiter: str) -> Iterator[list[str]]:
    """The cells of each row; a stray quotation mark costs its own row only."""
    csv.field_size_limit(_NO_LIMIT)
    lines = list(StringIO(text, newline=""))
    place = 0
    while place < len(lines):
        row, n_lines = _row(lines, place, delimiter)
        yield row
        place += n_lines


def _row(lines: list[str], place: int, delimiter: str) -> tuple[list[str], int]:
    """The cells of the row that starts at a line, and how many lines it takes."""
    if '"' not in lines[place]:
        return lines[place].rstrip("\r\n").split(delimiter), 1
    for n_lines in range(1, min(_LONGEST_CELL, len(lines) - place) + 1):
        several = lines[place : place + n_lines]
        try:
            return next(csv.reader(several, delimiter=delimiter, strict=True)), n_lines
        except csv.Error as error:
            if "unexpected end of data" not in str(error):
                break
    line = lines[place]
    if line.count('"') % 2:
        return next(csv.reader([line], delimiter=delimiter, quoting=csv.QUOTE_NONE)), 1
    return next(csv.reader([line], delimiter=delimiter)), 1


def _scan(source: Path | BytesIO, delimiter: str, width: int) -> pl.LazyFrame:
    names = [*cell_names(width), "beyond"]
    return pl.scan_csv(
        source,
        has_header=False,
        schema=dict.fromkeys(names, pl.String),
        separator=delimiter,
        # one column more than there should be shows which rows are too long
        truncate_ragged_lines=True,
        missing_columns="insert",
        row_index_name="row",
        row_index_offset=1,
        glob=False,
    )
