"""Lines for store.toml that name the columns which the reader could not match."""

import json
from collections.abc import Iterable

import polars as pl

from shrinkwise.profile.store import Store
from shrinkwise.records.dates import ORDERS, read_date
from shrinkwise.records.findings import ALSO_CALLED, OF_LINE, Suggestion
from shrinkwise.records.layout import Layout
from shrinkwise.records.names import LineNames
from shrinkwise.records.numbers import MARKS, number
from shrinkwise.records.sheet import Sheet
from shrinkwise.records.tables import OPTIONAL_COLUMNS, house_columns

_ENOUGH = 0.8
"""Share of a column's cells that must fit for it to be suggested."""

_HEADERS_TRIED, _CELLS_TRIED = 100, 100
"""Headers of a sheet, and cells below each, that are tried."""


def headers_to_name(
    sheet: Sheet, layout: Layout | None, table: str, names: LineNames
) -> list[Suggestion]:
    """A line for each required column that was not found, with the header that fits it best.

    A header fits by what stands below it: days, names of lines, whole numbers or amounts.
    """
    row = layout.row if layout else _likely_row(sheet)
    headers = layout.headers if layout else likely_headers(sheet)
    taken = set(layout.columns.values()) if layout else set()
    wanted = layout.missing if layout else _required(table)
    suggestions = []
    for column in wanted:
        free = [i for i in headers if i not in taken][:_HEADERS_TRIED]
        best = max(free, key=lambda i: _fit(sheet, row, i, column, names), default=None)
        if best is None:
            continue
        fits = _fit(sheet, row, best, column, names) >= _ENOUGH
        header = headers[best] if fits else ""
        if fits:
            taken.add(best)
        others = ", ".join(text for i, text in headers.items() if i in free)
        because = f"{sheet.label}; its headers: {others}" if not fits else sheet.label
        suggestions.append(Suggestion(f"columns.{table}", column, header, because))
    return suggestions


def toml_block(suggestions: Iterable[Suggestion], store: Store) -> str:
    """Suggestions as lines to paste into store.toml, each below its reason.

    What is of one line stands as comments, since it belongs into the line's own block.
    """
    sections: dict[str, dict[str, list[Suggestion]]] = {}
    for suggestion in dict.fromkeys(suggestions):
        of_section = sections.setdefault(suggestion.section, {})
        of_section.setdefault(suggestion.key, []).append(suggestion)
    names, of_lines = sections.pop(ALSO_CALLED, {}), sections.pop(OF_LINE, {})
    lines = []
    for section, settings in sections.items():
        lines.append(f"[{section}]")
        for key, same in settings.items():
            lines += [f"# {suggestion.because}" for suggestion in same]
            first = same[0]
            if first.alternative:
                lines.append("# only you can tell: take the mark from one of the two")
                lines.append(f"# {key} = {quoted(first.value)}")
                lines.append(f"# {key} = {quoted(first.alternative)}")
            else:
                lines.append(f"{key} = {quoted(first.value)}")
        lines.append("")
    for name, same in names.items():
        called = [*store.line(name).also_called, *(suggestion.value for suggestion in same)]
        listed = ", ".join(quoted(text) for text in called)
        lines += _in_block(name, same, [f"also_called = [{listed}]"])
    for name, same in of_lines.items():
        lines += _in_block(name, same, [suggestion.value for suggestion in same])
    return "\n".join(lines)


def _in_block(name: str, of_line: list[Suggestion], settings: list[str]) -> list[str]:
    reasons = dict.fromkeys(suggestion.because for suggestion in of_line)
    where = f"in the [[lines]] block of {quoted(name)}:"
    return [*(f"# {text}" for text in (*reasons, where, *settings)), ""]


def quoted(text: str) -> str:
    """A text as TOML writes it."""
    return json.dumps(text, ensure_ascii=False)


def _required(table: str) -> tuple[str, ...]:
    return tuple(c for c in house_columns(table) if c not in OPTIONAL_COLUMNS[table])


def likely_headers(sheet: Sheet) -> dict[int, str]:
    """The header of a sheet in which no header was recognised: its first widest row."""
    return {i: cell for i, cell in enumerate(sheet.head[_likely_row(sheet) - 1]) if cell}


def _likely_row(sheet: Sheet) -> int:
    widths = [sum(cell is not None for cell in row) for row in sheet.head]
    return widths.index(max(widths)) + 1


def _fit(sheet: Sheet, header_row: int, place: int, column: str, names: LineNames) -> float:
    cells = [row[place] for row in sheet.head[header_row:] if place < len(row)]
    texts = [cell for cell in cells if cell][:_CELLS_TRIED]
    if not texts:
        return 0.0
    return sum(_fits(texts, column, names)) / len(texts)


def _fits(texts: list[str], column: str, names: LineNames) -> list[bool]:
    if column in ("date", "bake_date"):
        return [any(read_date(text, order) is not None for order in ORDERS) for text in texts]
    if column == "product":
        return [names.knows(text) for text in texts]
    cell = pl.lit(pl.Series(texts))
    values = pl.select(number(cell, mark).alias(mark) for mark in MARKS)
    is_whole = pl.any_horizontal(pl.col(mark) == pl.col(mark).round() for mark in MARKS)
    is_number = pl.any_horizontal(pl.col(mark).is_not_null() for mark in MARKS)
    fits = values.select((is_whole if column == "units" else is_number).fill_null(False))
    return fits.to_series().to_list()
