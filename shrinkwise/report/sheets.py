"""Tables as CSV and Excel; text from the logs stays text there."""

from datetime import UTC, date, datetime
from io import BytesIO

import polars as pl
import xlsxwriter

_FORMULA_STARTS = "^[=+\\-@\t\r]"
_WIDEST_COLUMN = 60
_HEADER = {"bold": True, "bg_color": "#f3eee4", "bottom": 1, "text_wrap": True, "valign": "top"}


def csv_text(table: pl.DataFrame, decimals: int = 2) -> str:
    """A table as CSV, UTF-8, and no cell that a spreadsheet would run.

    Text that begins like a formula gets an apostrophe in front of it.
    """
    guarded = pl.col(pl.String).str.replace(_FORMULA_STARTS, "'$0")
    return table.with_columns(guarded).write_csv(float_precision=decimals)


def workbook(sheets: dict[str, pl.DataFrame], dated: date) -> bytes:
    """Tables as an Excel workbook, a sheet each, with a frozen header row.

    Parameters
    ----------
    sheets : dict of str to polars.DataFrame
        Sheet names and tables.
    dated : datetime.date
        Date that the file carries, so that the same tables give the same file.
    """
    file = BytesIO()
    options = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False}
    with xlsxwriter.Workbook(file, options) as book:
        created = datetime(dated.year, dated.month, dated.day, tzinfo=UTC)
        book.set_properties({"created": created.replace(tzinfo=None)})
        header, number = book.add_format(_HEADER), book.add_format({"num_format": "#,##0.00"})
        day = book.add_format({"num_format": "yyyy-mm-dd"})
        for name, table in sheets.items():
            sheet = book.add_worksheet(name)
            sheet.freeze_panes(1, 1)
            sheet.set_landscape()
            sheet.fit_to_pages(1, 0)
            sheet.autofilter(0, 0, table.height, table.width - 1)
            for column, title in enumerate(table.columns):
                cells = table[title]
                sheet.write_string(0, column, title.replace("_", " "), header)
                style = number if cells.dtype == pl.Float64 else None
                for row, value in enumerate(cells, start=1):
                    if isinstance(value, str):
                        sheet.write_string(row, column, value)
                    elif isinstance(value, date):
                        sheet.write_datetime(row, column, value, day)
                    elif value is not None and value == value:
                        sheet.write_number(row, column, value, style)
                sheet.set_column(column, column, _width(title, cells))
    return file.getvalue()


def _width(title: str, cells: pl.Series) -> int:
    longest_word = max(len(word) for word in title.split("_"))
    text = cells.dtype == pl.String
    longest_cell = max((len(value) for value in cells.drop_nulls()), default=0) if text else 10
    return min(max(longest_word, longest_cell) + 2, _WIDEST_COLUMN)
