"""Rows of cells as the bytes of export files, and the ways in which tills write a cell."""

import csv
import gzip
from collections.abc import Sequence
from datetime import date, datetime
from io import BytesIO, StringIO

import xlsxwriter

MONTHS = {
    "english": (
        *("January", "February", "March", "April", "May", "June", "July", "August"),
        *("September", "October", "November", "December"),
    ),
    "french": (
        *("janvier", "février", "mars", "avril", "mai", "juin", "juillet", "août"),
        *("septembre", "octobre", "novembre", "décembre"),
    ),
}

SERIAL_ORIGIN = date(1899, 12, 30)
"""Day 0 of a workbook's day numbers, for days from March 1900 on."""

_WORKBOOK_MADE = datetime(2026, 10, 5)
"""A fixed moment, so that the same rows are the same bytes."""

Sheets = dict[str, Sequence[Sequence[object]]]


def delimited(
    rows: Sequence[Sequence[str]], delimiter: str, encoding: str, tail: str = ""
) -> bytes:
    """Rows as delimited text.

    Parameters
    ----------
    rows : sequence of sequence of str
    delimiter, encoding : str
    tail : str
        Text behind the last row, as it is.
    """
    text = StringIO(newline="")
    csv.writer(text, delimiter=delimiter, lineterminator="\r\n").writerows(rows)
    return (text.getvalue() + tail).encode(encoding)


def zipped(data: bytes) -> bytes:
    """`data` in gzip form without a time stamp."""
    return gzip.compress(data, mtime=0)


def workbook(sheets: Sheets) -> bytes:
    """Sheets as an Excel workbook; dates become real dates, None an empty cell.

    Parameters
    ----------
    sheets : dict of str to sequence of sequence
        Rows of cells by sheet name.
    """
    data = BytesIO()
    with xlsxwriter.Workbook(data, {"in_memory": True}) as book:
        book.set_properties({"created": _WORKBOOK_MADE})
        day = book.add_format({"num_format": "d-mmm-yyyy"})
        for name, rows in sheets.items():
            sheet = book.add_worksheet(name)
            for at, cells in enumerate(rows):
                for column, cell in enumerate(cells):
                    if isinstance(cell, date):
                        sheet.write_datetime(at, column, cell, day)
                    elif isinstance(cell, str):
                        # never as a formula, a link or a number
                        sheet.write_string(at, column, cell)
                    elif cell is not None:
                        sheet.write(at, column, cell)
    return data.getvalue()


def named_day(day: date, language: str) -> str:
    """A day with the month's name, such as 4 octobre 2026."""
    return f"{day.day} {MONTHS[language][day.month - 1]} {day.year}"


def german_money(amount: float) -> str:
    """1.234,50, and a minus behind the amount."""
    text = f"{abs(amount):,.2f}".translate(str.maketrans(",.", ".,"))
    return text + "-" * (amount < 0)


def us_money(amount: float) -> str:
    """$1,234.50, and parentheses for a minus."""
    text = f"${abs(amount):,.2f}"
    return f"({text})" if amount < 0 else text


def french_money(amount: float) -> str:
    """1 234,50 $ with narrow no-break spaces between thousands, and a minus before it."""
    text = f"{amount:,.2f}".replace(",", "\u202f").replace(".", ",")
    return f"{text}\u00a0$"
