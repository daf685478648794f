"""Tables as CSV and Excel; text from the logs stays text there."""

from datetime import UTC, date, datetime
from io import BytesIO

import polars as pl
import xlsxwriter

from shrinkwise.report.cells import without_minus_zero

_FORMULA_STARTS = "^[=+\\-@\t\r]"
_WIDEST_COLUMN = 60
_A4 = 9
_SHOWN_DECIMALS = 2
_HEADING_WIDTH, _TEXT_WIDTH, _LINE_HEIGHT = 26, 84, 16
_HEADER = {"bold": True, "bg_color": "#f3eee4", "bottom": 1, "text_wrap": True, "valign": "top"}

Form = list[tuple[str, str]]
"""Paragraphs, each with its heading; an empty heading goes on with the last."""


def csv_text(table: pl.DataFrame, decimals: int = 2) -> str:
    """A table as CSV: so many decimals, UTF-8, and no cell that a spreadsheet would run.

    Text that begins like a formula gets an apostrophe in front of it.
    """
    guarded = pl.col(pl.String).str.replace(_FORMULA_STARTS, "'$0")
    signed = without_minus_zero(table.with_columns(guarded), decimals)
    return signed.write_csv(float_precision=decimals)


def workbook(
    sheets: dict[str, pl.DataFrame], dated: date, forms: dict[str, Form] | None = None
) -> bytes:
    """Tables as an Excel workbook, a sheet each, with a frozen header row.

    Parameters
    ----------
    sheets : dict of str to polars.DataFrame
        Sheet names and tables.
    dated : datetime.date
        Date that the file carries, so that the same tables give the same file.
    forms : dict of str to list of (str, str), optional
        Sheet names and headed paragraphs, each form on one page of paper, before the tables.
    """
    file = BytesIO()
    options = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False}
    with xlsxwriter.Workbook(file, options) as book:
        created = datetime(dated.year, dated.month, dated.day, tzinfo=UTC)
        book.set_properties({"created": created.replace(tzinfo=None)})
        header, number = book.add_format(_HEADER), book.add_format({"num_format": "#,##0.00"})
        day = book.add_format({"num_format": "yyyy-mm-dd"})
        for name, form in (forms or {}).items():
            _write_form(book, name, form)
        for name, exact in sheets.items():
            table = without_minus_zero(exact, _SHOWN_DECIMALS)
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


def _write_form(book: xlsxwriter.Workbook, name: str, form: Form) -> None:
    bold, text = (
        book.add_format({"bold": is_bold, "text_wrap": True, "valign": "top"})
        for is_bold in (True, False)
    )
    sheet = book.add_worksheet(name)
    sheet.set_paper(_A4)
    sheet.fit_to_pages(1, 1)
    sheet.hide_gridlines(0)
    sheet.set_column(0, 0, _HEADING_WIDTH)
    sheet.set_column(1, 1, _TEXT_WIDTH)
    for row, (heading, paragraph) in enumerate(form):
        # programs that do not fit a row to its wrapped text would cut it off
        sheet.set_row(row, _LINE_HEIGHT * -(-max(len(paragraph), 1) // _TEXT_WIDTH))
        sheet.write_string(row, 0, heading, bold)
        sheet.write_string(row, 1, paragraph, text)


def _width(title: str, cells: pl.Series) -> int:
    longest_word = max(len(word) for word in title.split("_"))
    text = cells.dtype == pl.String
    longest_cell = max((len(value) for value in cells.drop_nulls()), default=0) if text else 10
    return min(max(longest_word, longest_cell) + 2, _WIDEST_COLUMN)
