"""A table on the terminal, in which no number is ever cut."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Literal

import polars as pl
from rich.cells import cell_len
from rich.console import Console
from rich.table import Table
from rich.text import Text

from shrinkwise.report.cells import cell_text
from shrinkwise.report.labels import label

_FOLDED = 24
"""Text of more characters is wrapped, and a word of more is folded, where there is no room."""

_GAP = 2
"""Characters beside each column, one on either side."""


@dataclass(frozen=True)
class _Column:
    """A column as it is printed, `width` characters wide."""

    header: str
    cells: tuple[str, ...]
    is_number: bool
    width: int

    @property
    def drawn_width(self) -> int:
        return self.width + _GAP

    @property
    def wanted_width(self) -> int:
        """Where nothing is wrapped."""
        return max(map(cell_len, (self.header, *self.cells)))


def print_table(
    console: Console, table: pl.DataFrame, title: str | None = None, keys: int = 1
) -> None:
    """A table as it stands: numbers to the right, floats to two decimals.

    Headers and long texts are wrapped by words. Where that is not enough for the terminal, the
    columns that are too many follow below, beside those that name the row. A file has room for all
    columns.

    Parameters
    ----------
    console : rich.console.Console
    table : polars.DataFrame
    title : str, optional
    keys : int
        So many of the first columns name the row.
    """
    columns = [_column(cells, kind) for cells, kind in zip(table, table.dtypes, strict=True)]
    room = console.width
    if not console.is_terminal:
        room = max(room, _drawn_width(columns))
    if title is not None:
        console.print(title, markup=False, highlight=False, style="table.title")
    for number, part in enumerate(_parts(columns, keys, room)):
        if number:
            console.print()
        console.print(_drawn(_widened(part, room)), crop=False)


def _column(cells: pl.Series, kind: pl.DataType) -> _Column:
    """As narrow as it may be."""
    header, texts, is_number = label(cells.name), tuple(map(cell_text, cells)), kind.is_numeric()
    words = [*header.split(), *(texts if is_number else ())]
    least = max((cell_len(word) for word in words), default=1)
    if not is_number:
        least = max(least, min(max(map(cell_len, texts), default=1), _FOLDED))
    return _Column(header, texts, is_number, least)


def _parts(columns: list[_Column], keys: int, room: int) -> list[list[_Column]]:
    """Columns that have room side by side; the first ones stand in every part."""
    named, others = columns[:keys], columns[keys:]
    parts = [named]
    for column in others:
        if len(parts[-1]) > keys and _drawn_width([*parts[-1], column]) > room:
            parts.append(named)
        parts[-1] = [*parts[-1], column]
    return parts


def _widened(columns: list[_Column], room: int) -> list[_Column]:
    """The room that is left goes to the columns with the most lines."""
    columns = list(columns)
    for _ in range(room - _drawn_width(columns)):
        lines = [column.wanted_width / column.width for column in columns]
        most = max(lines)
        if most <= 1:
            break
        at = lines.index(most)
        columns[at] = replace(columns[at], width=columns[at].width + 1)
    return columns


def _drawn_width(columns: Iterable[_Column]) -> int:
    return sum(column.drawn_width for column in columns)


def _drawn(columns: list[_Column]) -> Table:
    drawn = Table(header_style="bold", box=None, width=_drawn_width(columns))
    for column in columns:
        justify: Literal["right", "left"] = "right" if column.is_number else "left"
        header = Text(column.header)
        drawn.add_column(header, justify=justify, width=column.width, overflow="fold")
    for row in zip(*(column.cells for column in columns), strict=True):
        drawn.add_row(*map(Text, row))
    return drawn
