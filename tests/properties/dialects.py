"""Dialects of tills and spreadsheets: how one may write a table, and what it then leaves open.

A sheet is rows of values; a dialect turns each into the text of a cell, or leaves it typed for a
workbook. What a dialect leaves open is told from the texts alone, apart from the reader.
"""

import csv
import gzip
import io
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time
from pathlib import Path

import xlsxwriter
from spellings import ALSO_SUNDAY, MINUTE, MONTHS, SHORT_MONTHS, WEEKDAYS

DAY_ZERO = date(1899, 12, 30)


@dataclass(frozen=True)
class Money:
    """An amount in cents."""

    cents: int


@dataclass(frozen=True)
class Moment:
    """A day, and the hour where the table keeps it with the day."""

    day: date
    hour: int | None = None


@dataclass(frozen=True)
class Hour:
    """An hour of the day in a column of its own."""

    hour: int


Cell = str | int | bool | Money | Moment | Hour | None
Grid = list[list[Cell]]


@dataclass(frozen=True)
class Dialect:
    """How a sheet is written.

    `date_style` is "numbers", "names", "short names", "compact" or "serial"; `order` is the order
    of its numbers. `cents` tells whether whole amounts are written with cents too.
    """

    ending: str
    encoding: str
    delimiter: str
    line_end: str
    quoting: int
    typed: bool
    mark: str
    thousands: str
    cents: bool
    currency: str
    sign: str
    sign_outside: bool
    date_style: str
    order: str
    separator: str
    long_year: bool
    padded: bool
    language: str
    named_date: str
    weekdays: str
    midnight: bool
    clock: str
    hours: str
    flags: tuple[str, str]

    def sound(self) -> "Dialect":
        """This dialect without what cannot stand together."""
        thousands = self.thousands if self._holds(self.thousands) else " "
        two_digits = self.order == "year-month-day" and not self.long_year
        return replace(
            self,
            thousands="" if thousands == self.mark else thousands,
            sign=self.sign if self._holds(self.sign) else "-%",
            # a year of two digits stands first only between hyphens
            separator="-" if two_digits else self.separator,
            padded=self.padded or two_digits,
        )

    def _holds(self, text: str) -> bool:
        try:
            text.encode(self.encoding)
        except UnicodeEncodeError:
            return False
        return True

    def text(self, cell: Cell) -> str:
        """A value as this dialect writes it."""
        if isinstance(cell, bool):
            return self.flags[0 if cell else 1]
        if isinstance(cell, int):
            return self._signed(f"{abs(cell):,}".replace(",", self.thousands), cell < 0, "%")
        if isinstance(cell, Money):
            return self._signed(self._amount(abs(cell.cents)), cell.cents < 0, self.currency)
        if isinstance(cell, Moment):
            return self._moment(cell)
        if isinstance(cell, Hour):
            return self._at(self.hours, cell.hour)
        return cell or ""

    def _amount(self, cents: int) -> str:
        whole, part = divmod(cents, 100)
        digits = f"{whole:,}".replace(",", self.thousands)
        return f"{digits}{self.mark}{part:02}" if part or self.cents else digits

    def _signed(self, digits: str, negative: bool, currency: str) -> str:
        sign = self.sign if negative else "%"
        inner, outer = (currency, sign) if self.sign_outside else (sign, currency)
        return outer.replace("%", inner.replace("%", digits))

    def _moment(self, moment: Moment) -> str:
        text = self._date(moment.day)
        if moment.hour is not None:
            return text + self._at(self.clock, moment.hour)
        midnight = self.midnight and self.date_style != "serial"
        return f"{text} 00:00:00" if midnight else text

    def _at(self, style: str, hour: int) -> str:
        half = "PM" if hour >= 12 else "AM"
        return style.format(h=hour, h12=(hour + 11) % 12 + 1, half=half, n=MINUTE)

    def _date(self, day: date) -> str:
        if self.date_style == "serial":
            return str((day - DAY_ZERO).days)
        if self.date_style == "compact":
            return f"{day:%Y%m%d}"
        if self.date_style in ("names", "short names"):
            names = MONTHS if self.date_style == "names" else SHORT_MONTHS
            month = names[self.language].split()[day.month - 1]
            return self.named_date.format(d=day.day, m=month, y=day.year)
        pad = 2 if self.padded else 1
        year = str(day.year) if self.long_year else f"{day.year % 100:02}"
        parts = {"year": year, "month": f"{day.month:0{pad}}", "day": f"{day.day:0{pad}}"}
        text = self.separator.join(parts[name] for name in self.order.split("-"))
        if self.weekdays:
            text = f"{WEEKDAYS[self.weekdays].split()[day.weekday()]} {text}"
        return text

    def write(self, path: Path, grid: Grid) -> None:
        """Write a sheet; a workbook has typed cells or texts."""
        if self.ending == ".xlsx":
            self._write_workbook(path, grid)
            return
        out = io.StringIO(newline="")
        style = {"delimiter": self.delimiter, "lineterminator": self.line_end}
        csv.writer(out, quoting=self.quoting, **style).writerows(  # type: ignore[call-overload]
            [self.text(cell) for cell in row] for row in grid
        )
        data = out.getvalue().encode(self.encoding)
        path.write_bytes(gzip.compress(data, 1) if self.ending.endswith(".gz") else data)

    def _write_workbook(self, path: Path, grid: Grid) -> None:
        with xlsxwriter.Workbook(path) as book:
            sheet = book.add_worksheet()
            as_date = book.add_format({"num_format": "dd/mm/yyyy"})
            as_time = book.add_format({"num_format": "dd/mm/yyyy hh:mm"})
            for r, row in enumerate(grid):
                for c, cell in enumerate(row):
                    if not self.typed or isinstance(cell, str):
                        sheet.write_string(r, c, self.text(cell))
                    elif isinstance(cell, Moment) and self.date_style == "serial":
                        sheet.write_number(r, c, int(self._date(cell.day)))
                    elif isinstance(cell, Moment):
                        at = time() if cell.hour is None else time(cell.hour, MINUTE)
                        form = as_date if cell.hour is None else as_time
                        sheet.write_datetime(r, c, datetime.combine(cell.day, at), form)
                    elif isinstance(cell, Money):
                        sheet.write_number(r, c, cell.cents / 100)
                    elif isinstance(cell, Hour):
                        sheet.write_number(r, c, cell.hour)
                    elif cell is not None:
                        sheet.write(r, c, cell)

    def leaves_order_open(self, cells: Iterable[Cell]) -> bool:
        """Whether the days among the cells read in two ways and none of them shows which."""
        if (self.ending == ".xlsx" and self.typed) or self.date_style != "numbers":
            return False
        days = {cell.day for cell in cells if isinstance(cell, Moment)}
        readings = [readings_of(self._date(day)) for day in sorted(days)]
        if any(len(reading) > 1 and _n_valid(reading) == 1 for reading in readings):
            return False
        return any(len(set(reading) - {None}) > 1 for reading in readings)

    def leaves_mark_open(self, cells: Iterable[Cell]) -> bool:
        """Whether the numbers among the cells read in two ways and none of them shows which."""
        if self.ending == ".xlsx" and self.typed:
            return False
        # the sign and the currency show nothing
        bare = replace(self, sign="%", currency="%")
        numbers = [cell for cell in cells if type(cell) in (int, Money)]
        marked = [text for text in map(bare.text, numbers) if "." in text or "," in text]
        return bool(marked) and all(re.fullmatch(r"[1-9]\d{0,2}[.,]\d{3}", t) for t in marked)


def readings_of(text: str) -> Sequence[date | None]:
    """The day that each order makes of a date in numbers; None where it is none."""
    named, _, numbers = text.rpartition(" ")
    first, second, third = re.split(r"[-/.]", numbers)
    orders = []
    if len(first) == 4 or (len(first) == 2 and len(third) <= 2 and "-" in numbers):
        orders.append((first, second, third))
    if len(first) <= 2 and len(third) in (2, 4):
        orders += [(third, first, second), (third, second, first)]
    days = [_day(*order) for order in orders]
    if named:
        days = [day if day and day.weekday() in _weekdays(named) else None for day in days]
    return days


def _weekdays(named: str) -> set[int]:
    at = {names.split().index(named) for names in WEEKDAYS.values() if named in names.split()}
    return at | {6} if named in ALSO_SUNDAY else at


def _day(year: str, month: str, day: str) -> date | None:
    try:
        return date(int(year) + (2000 if len(year) == 2 else 0), int(month), int(day))
    except ValueError:
        return None


def _n_valid(reading: Sequence[date | None]) -> int:
    return sum(day is not None for day in reading)
