"""The files of one table after another: opened, matched, read, and without repeats."""

from collections.abc import Iterator
from textwrap import shorten

import polars as pl

from shrinkwise.profile.store import Store
from shrinkwise.records.content import TooLargeError, UnreadableFileError
from shrinkwise.records.delimited import Likeness, open_delimited, open_forgiving
from shrinkwise.records.findings import NOT_READ, NOTE, Suggestion, finding, no_findings
from shrinkwise.records.folder import LogFile, too_large
from shrinkwise.records.layout import AmbiguousHeadersError, Layout, find_layout, likeness
from shrinkwise.records.names import LineNames
from shrinkwise.records.notation import UnsettledNotationError
from shrinkwise.records.overlap import Part, without_repeats
from shrinkwise.records.rows import SheetRows, read_rows
from shrinkwise.records.sheet import Sheet
from shrinkwise.records.suggesting import headers_to_name, likely_headers, quoted
from shrinkwise.records.tables import SCHEMAS, house_columns
from shrinkwise.records.workbook import DAMAGED, open_parquet, open_workbook


class LogReader:
    """Reads the files of table after table and gathers what it found."""

    def __init__(self, store: Store) -> None:
        self.store = store
        self.names = LineNames(store.lines)
        self.problems: list[pl.DataFrame] = [no_findings()]
        self.files: list[tuple[str, str, int, int, int, int]] = []
        self.suggestions: list[Suggestion] = []
        self.sales_files: list[str] = []

    def table(self, table: str, logs: list[LogFile]) -> pl.DataFrame:
        """The good rows of a table, from all its files."""
        read: dict[str, SheetRows] = {}
        for log in logs:
            for sheet in self._sheets(log):
                rows = self._rows(sheet, log)
                if rows is not None:
                    read[sheet.label] = rows
        kept, replaced = without_repeats([Part(label, rows.good) for label, rows in read.items()])
        self.problems += [*(rows.problems for rows in read.values()), replaced]
        used = {part.label: int(part.rows["rows"].sum()) for part in kept}
        for label, rows in read.items():
            n_replaced = int(rows.good["rows"].sum()) - used[label]
            counts = (rows.rows_read, used[label], rows.rows_set_aside, n_replaced)
            self.files.append((label, table, *counts))
            self.suggestions += rows.suggestions
        if table == "sales":
            self.sales_files = [log.path.name for log in logs]
        parts = [SCHEMAS[table].create_empty(), *(part.rows for part in kept)]
        by_product = ["product"] if "product" in house_columns(table) else []
        return pl.concat(parts).sort(["date", *by_product, "file", "row"])

    def _sheets(self, log: LogFile) -> Iterator[Sheet]:
        """The sheets of a file; what keeps it from being opened is a finding."""
        limit = self.store.largest_file_mb
        name = log.path.name
        try:
            if log.path.stat().st_size > limit * 1_000_000:
                raise TooLargeError
            if log.ending == ".parquet":
                yield open_parquet(log.path, limit)
            elif log.ending == ".xlsx":
                sheets, hidden = open_workbook(log.path, limit)
                for sheet_name in hidden:
                    note = "Unhide it if it belongs to the log."
                    self._note(name, f"has a hidden sheet, {sheet_name!r}, that is not read", note)
                yield from self._tables_among(sheets, log)
            else:
                yield open_delimited(log.path, limit, self._likeness(log.table))
        except TooLargeError:
            self.problems.append(too_large(name, limit))
        except UnreadableFileError as error:
            self._not_read(name, error.rule, error.what_to_do)
        except OSError as error:
            self._not_read(
                name,
                f"cannot be opened ({error.strerror or error})",
                "Close it where it is open, or copy it into the folder again.",
            )

    def _tables_among(self, sheets: list[Sheet], log: LogFile) -> Iterator[Sheet]:
        """Of several sheets those with a header of the table; the others are noted."""
        if not sheets:
            raise UnreadableFileError("is empty", "Save it again, or take it out of the folder.")
        of_table = [sheet for sheet in sheets if self._is_log(sheet, log.table)]
        yield from of_table or sheets[:1]
        for sheet in sheets:
            if of_table and sheet not in of_table:
                self._note(
                    sheet.label,
                    f"is a sheet without the columns of {log.table}",
                    "Nothing: it is left out.",
                )

    def _is_log(self, sheet: Sheet, table: str) -> bool:
        """Whether a sheet holds a log, if perhaps one with a fault in its header."""
        try:
            layout = find_layout(sheet.head, table, self._own(table), self.names.knows)
        except AmbiguousHeadersError:
            return True
        if layout is None:
            return False
        return not layout.missing or ("date" in layout.columns and len(layout.columns) > 1)

    def _rows(self, sheet: Sheet, log: LogFile) -> SheetRows | None:
        table = log.table
        try:
            try:
                return self._read(sheet, table)
            except (pl.exceptions.ComputeError, pl.exceptions.SchemaError):
                if not sheet.shifts:
                    raise
                limit, like = self.store.largest_file_mb, self._likeness(table)
                return self._read(open_forgiving(log.path, limit, like), table)
        except AmbiguousHeadersError as twice:
            self._two_headers(sheet, table, twice)
        except UnsettledNotationError as question:
            self._not_read(sheet.label, question.rule, question.what_to_do)
            self.suggestions.append(question.suggestion)
        except UnreadableFileError as error:
            self._not_read(sheet.label, error.rule, error.what_to_do)
        except (*DAMAGED, OSError) as error:
            # a damaged Parquet file may show itself as late as this, and in any of these ways
            if not (sheet.typed or isinstance(error, pl.exceptions.ComputeError | OSError)):
                raise
            self._not_read(
                sheet.label,
                f"cannot be read ({shorten(str(error), 200)})",
                "Export it again, as CSV or Excel.",
            )
        return None

    def _read(self, sheet: Sheet, table: str) -> SheetRows | None:
        layout = find_layout(sheet.head, table, self._own(table), self.names.knows)
        if layout is None or layout.missing:
            self._no_layout(sheet, layout, table)
            return None
        return read_rows(sheet, layout, table, self.store, self.names)

    def _two_headers(self, sheet: Sheet, table: str, twice: AmbiguousHeadersError) -> None:
        first, second = twice.headers
        rule = f"has the headers {first!r} and {second!r}, which both name {twice.column}"
        if first.strip().casefold() == second.strip().casefold():
            self._not_read(sheet.label, rule, "Rename or delete one of them.")
            return
        advice = (
            f"Name the right one in store.toml under [columns.{table}]: "
            f"{twice.column} = {quoted(first)}, or the other."
        )
        self._not_read(sheet.label, rule, advice)
        section = f"columns.{table}"
        self.suggestions.append(Suggestion(section, twice.column, first, sheet.label, second))

    def _no_layout(self, sheet: Sheet, layout: Layout | None, table: str) -> None:
        headers = layout.headers.values() if layout else likely_headers(sheet).values()
        missing = layout.missing if layout else tuple(house_columns(table)[:1])
        own = self._own(table)
        there = shorten(", ".join(headers), 300) or "none"
        column = missing[0]
        self._not_read(
            sheet.label,
            f"has no column {own.get(column, column)!r}; its headers are: {there}",
            f"Rename the right one to {column!r}, or name it in store.toml under "
            f'[columns.{table}]: {column} = "the header in your export".',
        )
        self.suggestions += headers_to_name(sheet, layout, table, self.names)

    def _likeness(self, table: str) -> Likeness:
        return lambda head: likeness(head, table, self._own(table), self.names.knows)

    def _own(self, table: str) -> dict[str, str]:
        return self.store.columns.get(table, {})  # type: ignore[call-overload]

    def _not_read(self, file: str, rule: str, what_to_do: str) -> None:
        self.problems.append(finding(NOT_READ, file, rule, what_to_do))

    def _note(self, file: str, rule: str, what_to_do: str) -> None:
        self.problems.append(finding(NOTE, file, rule, what_to_do))
