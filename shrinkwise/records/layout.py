"""Where the columns of a table stand in a sheet, long or wide."""

from collections.abc import Callable
from dataclasses import dataclass, field

from shrinkwise.records.dates import read_date
from shrinkwise.records.headers import house_column, is_total, normal
from shrinkwise.records.sheet import MOST_COLUMNS, Head
from shrinkwise.records.tables import FLAGS, OPTIONAL_COLUMNS, house_columns

_HEADER_WITHIN, _CELLS_WITHIN = 40, 20_000
"""Rows of a sheet, and cells in them, among which its header is looked for."""


class AmbiguousHeadersError(Exception):
    """Two headers name the same column."""

    def __init__(self, column: str, headers: tuple[str, str]) -> None:
        super().__init__(f"{headers[0]!r} and {headers[1]!r} could both be {column}")
        self.column = column
        self.headers = headers


@dataclass(frozen=True)
class Layout:
    """The header of a sheet, matched.

    Attributes
    ----------
    row : int
        Row of the header, from 1.
    headers : dict of int to str
        The texts of the header row by column.
    columns : dict of str to int
        The column of each house column that was found.
    spread : dict of int to str
        The columns of a wide sheet: one for each day or one for each line, with its header.
    spread_over : str
        "date" or "product" for a wide sheet, "" for a long one.
    totals : dict of int to str
        Columns that hold totals of a wide sheet.
    missing : tuple of str
        Required columns that were not found.
    """

    row: int
    headers: dict[int, str]
    columns: dict[str, int]
    spread: dict[int, str] = field(default_factory=dict)
    spread_over: str = ""
    totals: dict[int, str] = field(default_factory=dict)
    missing: tuple[str, ...] = ()

    @property
    def merit(self) -> int:
        """How many headers were matched."""
        return len(self.columns) + 2 * bool(self.spread)


def find_layout(
    head: Head, table: str, own: dict[str, str], is_line: Callable[[str], bool]
) -> Layout | None:
    """The layout of the header row that matches best; None where no row matches a column.

    Parameters
    ----------
    head : list of list of str or None
    table : str
    own : dict of str to str
        The store's own headers by house column; they go before all others.
    is_line : callable
        Whether a text names a line of the store.

    Raises
    ------
    AmbiguousHeadersError
    """
    found: list[Layout] = []
    seen = 0
    for row, cells in enumerate(head[:_HEADER_WITHIN], start=1):
        headers = {index: cell for index, cell in enumerate(cells) if cell}
        if headers and len(cells) <= MOST_COLUMNS and seen < _CELLS_WITHIN:
            found.append(_layout(row, headers, table, own, is_line))
        seen += len(headers)
    best = max(found, key=lambda layout: (not layout.missing, layout.merit), default=None)
    if best is None or best.merit == 0:
        return None
    _refuse_twice(best, table, own)
    return best


def likeness(head: Head, table: str, own: dict[str, str], is_line: Callable[[str], bool]) -> int:
    """How many headers of a table the best row of a head shows."""
    try:
        layout = find_layout(head, table, own, is_line)
    except AmbiguousHeadersError:
        return 1
    return layout.merit if layout is not None else 0


def _layout(
    row: int,
    headers: dict[int, str],
    table: str,
    own: dict[str, str],
    is_line: Callable[[str], bool],
) -> Layout:
    columns = {column: places[0] for column, places in _places(headers, table, own).items()}
    missing = tuple(
        column
        for column in house_columns(table)
        if column not in columns and (column not in OPTIONAL_COLUMNS[table] or column in own)
    )
    long = Layout(row, headers, columns, missing=missing)
    return _wide(long, is_line) if "units" in missing and table != "events" else long


def _wide(long: Layout, is_line: Callable[[str], bool]) -> Layout:
    """A sheet with a column for each day or each line; `long` where it is none."""
    rest = {i: text for i, text in long.headers.items() if i not in long.columns.values()}
    totals = {i: text for i, text in rest.items() if is_total(text)}
    rest = {i: text for i, text in rest.items() if i not in totals}
    days = {i: text for i, text in rest.items() if _may_be_day(text)}
    lines = [text for text in rest.values() if is_line(text)]
    columns = dict(long.columns)
    if 0 not in long.headers and not {"date", "product"} & set(columns):
        # the corner above the names at the side is often left empty
        columns["product" if days else "date"] = 0
    if "product" in columns and "date" not in columns and days:
        over, spread = "date", days
    elif "date" in columns and "product" not in columns and lines:
        over, spread = "product", rest
    else:
        return long
    # a cell of a wide sheet has room for units only: their money is that of the store's price
    found = ("units", "net_sales", over, *columns)
    missing = tuple(column for column in long.missing if column not in found)
    return Layout(long.row, long.headers, columns, spread, over, totals, missing)


def _places(headers: dict[int, str], table: str, own: dict[str, str]) -> dict[str, list[int]]:
    """Where each column is named: by the store's own word, the house's, or a plain one."""
    columns = (*house_columns(table), *FLAGS.get(table, ()))
    words = {column: own[column].strip().casefold() for column in columns if column in own}
    taken = {text.strip().casefold() for text in own.values()}
    house_words = {normal(column): column for column in columns}
    by_own: dict[str, list[int]] = {}
    house: dict[str, list[int]] = {}
    plain: dict[str, list[int]] = {}
    for index, text in headers.items():
        bare = text.strip().casefold()
        if bare in taken:
            by_own.setdefault(bare, []).append(index)
        elif column := house_words.get(normal(text)):
            house.setdefault(column, []).append(index)
        elif column := house_column(text, table):
            plain.setdefault(column, []).append(index)
    places = {
        column: by_own.get(words[column], [])
        if column in own
        else house.get(column) or plain.get(column, [])
        for column in columns
    }
    return {column: found for column, found in places.items() if found}


def _refuse_twice(layout: Layout, table: str, own: dict[str, str]) -> None:
    for column, places in _places(layout.headers, table, own).items():
        if len(places) > 1:
            first, second = (layout.headers[index] for index in places[:2])
            raise AmbiguousHeadersError(column, (first, second))


def _may_be_day(text: str) -> bool:
    # a spreadsheet gives a date in its header row as midnight of the day
    day = text.removesuffix(" 00:00:00")
    return any(
        read_date(day, order) is not None
        for order in ("day-month-year", "month-day-year", "year-month-day")
    )
