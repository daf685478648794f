"""Tables of a small store, drawn, and the dialects in which they are written."""

import csv
from collections import Counter
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import chain

from dialects import Cell, Dialect, Grid, Hour, Moment, Money
from hypothesis import assume
from hypothesis import strategies as st
from spellings import CLOCKS, CURRENCIES, FLAGS, HOURS, NAMED_DATES, SIGNS, THOUSANDS

LINES = ("Rye loaf", "Bagels, 6", "Crème brûlée; large", 'Brötchen "Rund"')
PRICE_CENTS = 400
HEADERS = {
    "house": "date|product|units|net_sales|hour|reduced|reason|bake_date",
    "en": "Date|Item|Qty|Net Sales|Hour|Marked down|Reason|Bake date",
    "de": "Datum|Artikel|Menge|Umsatz (EUR)|Uhrzeit|Reduziert|Grund|Backdatum",
    "fr": "Jour|Libellé|Quantité|Montant net|Heure|Réduit|Motif|Date de cuisson",
    "es": "Fecha|Artículo|Unidades|Importe|Hora|Rebajado|Motivo|Horneado el",
}
TOTAL = {"house": "total", "en": "Grand total", "de": "Summe", "fr": "Total", "es": "Total general"}
COLUMNS = ("date", "product", "units", "net_sales", "hour", "reduced", "reason", "bake_date")
REASONS = (None, "out of date", "Bruch, Boden", "périmé; mou", 'said "hard"', "1,5", "n/a")
BIG = st.integers(1, 40) | st.integers(900, 3_000_000)
AMOUNT = st.integers(0, 99_999) | st.integers(90_000, 400_000_000)


@dataclass(frozen=True)
class Case:
    """A true table, the sheet that holds it, and the dialect in which that is written."""

    table: str
    truth: Counter[tuple[object, ...]]
    money: Counter[tuple[object, ...]]
    grid: Grid
    dialect: Dialect
    n_rows: int
    valued: bool = False

    @property
    def open_order(self) -> bool:
        return self.dialect.leaves_order_open(chain(*self.grid))

    @property
    def open_mark(self) -> bool:
        return self.dialect.leaves_mark_open(chain(*self.grid))


def dialects(**fixed: st.SearchStrategy[object]) -> st.SearchStrategy[Dialect]:
    """Every way to write a table, ISO dates and plain numbers in UTF-8 being the simplest."""
    parts = {
        "ending": st.sampled_from((".csv", ".tsv", ".txt", ".csv.gz", ".CSV", ".xlsx")),
        "encoding": st.sampled_from(("utf-8", "utf-8-sig", "utf-16", "cp1252")),
        "delimiter": st.sampled_from(",;\t|"),
        "line_end": st.sampled_from(("\n", "\r\n", "\r")),
        "quoting": st.sampled_from((csv.QUOTE_MINIMAL, csv.QUOTE_ALL)),
        "typed": st.booleans(),
        "mark": st.sampled_from(".,"),
        "thousands": st.sampled_from(THOUSANDS),
        "cents": st.booleans(),
        "currency": st.sampled_from(CURRENCIES),
        "sign": st.sampled_from(SIGNS),
        "sign_outside": st.booleans(),
        "date_style": st.sampled_from(("numbers", "names", "short names", "compact", "serial")),
        "order": st.sampled_from(("year-month-day", "month-day-year", "day-month-year")),
        "separator": st.sampled_from("-/."),
        "long_year": st.booleans(),
        "padded": st.booleans(),
        "language": st.sampled_from(("en", "de", "fr", "es")),
        "named_date": st.sampled_from(NAMED_DATES),
        "weekdays": st.sampled_from(("", "", "en", "de")),
        "midnight": st.booleans(),
        "clock": st.sampled_from(CLOCKS),
        "hours": st.sampled_from(HOURS),
        "flags": st.sampled_from(FLAGS),
    }
    return st.builds(Dialect, **(parts | fixed)).map(Dialect.sound)  # type: ignore[arg-type]


@st.composite
def cases(
    draw: st.DrawFn,
    dialect: st.SearchStrategy[Dialect] | None = None,
    latest_day: int = 31,
    cents: st.SearchStrategy[int] | None = None,
) -> Case:
    """A table of a few days and lines; `latest_day` of a month and `cents` make it ambiguous."""
    table = draw(
        st.sampled_from(("sales", "sales", "disposals", "bakes", "wide bakes", "wide sales"))
    )
    how = draw(dialects() if dialect is None else dialect)
    days = st.dates(date(2000, 2, 1), date(2098, 12, 31))
    first = draw(days.map(lambda day: day.replace(day=min(day.day, latest_day))))
    near = [first + timedelta(days=k) for k in range(28)]
    near = [day for day in near if day.day <= latest_day]
    if table.startswith("wide "):
        return draw(_wide(table.removeprefix("wide "), how, near))
    n_rows = draw(st.integers(1, 6))
    units = BIG if table == "bakes" else st.integers(0, 30) | BIG
    rows: list[dict[str, Cell]] = []
    timed, flagged = draw(st.booleans()), draw(st.booleans())
    stamped = how.date_style not in ("serial", "compact") and draw(st.booleans())
    for _ in range(n_rows):
        day, line = draw(st.sampled_from(near)), draw(st.sampled_from(LINES))
        row: dict[str, Cell] = {"date": Moment(day), "product": line, "units": draw(units)}
        if table == "sales":
            sign = draw(st.sampled_from((1, 1, 1, -1)))
            row["units"] *= sign  # type: ignore[operator]
            amount = draw(AMOUNT if cents is None else cents)
            row["net_sales"] = Money(sign * amount if row["units"] else 0)
            hour = draw(st.integers(0, 23))
            if timed:
                row |= {"date": Moment(day, hour)} if stamped else {"hour": Hour(hour)}
            if flagged:
                row["reduced"] = draw(st.booleans())
        if table == "disposals":
            row["reason"] = draw(st.sampled_from(REASONS))
            earlier = draw(st.none() | st.sampled_from([d for d in near if d <= day]))
            row["bake_date"] = Moment(earlier) if earlier else None
        rows.append(row)
    columns = [column for column in COLUMNS if column in rows[0]]
    return Case(table, *_truth(rows), draw(_long_grids(rows, columns)), how, n_rows)


def _truth(rows: list[dict[str, Cell]]) -> tuple[Counter[tuple[object, ...]], ...]:
    """Units and cents of each row of the table, same rows summed."""
    units: Counter[tuple[object, ...]] = Counter()
    cents: Counter[tuple[object, ...]] = Counter()
    for row in rows:
        day, baked, hour = (row.get(name) for name in ("date", "bake_date", "hour"))
        assert isinstance(day, Moment)
        at = hour.hour if isinstance(hour, Hour) else day.hour
        of_day = baked.day if isinstance(baked, Moment) else None
        key = (day.day, row["product"], at, row.get("reduced"), row.get("reason"), of_day)
        units[key] += row["units"]  # type: ignore[assignment, operator]
        money = row.get("net_sales")
        cents[key] += money.cents if isinstance(money, Money) else 0
    return units, cents


@st.composite
def _long_grids(draw: st.DrawFn, rows: list[dict[str, Cell]], columns: list[str]) -> Grid:
    """Title rows, a header, the rows, and totals; columns in any order, some of them blank."""
    language = draw(st.sampled_from(sorted(HEADERS)))
    words = HEADERS[language].split("|")
    blanks = draw(st.sampled_from(([], [], [""], ["", " "], ["Filiale"])))
    order = draw(st.permutations([*columns, *blanks]))
    header: list[Cell] = [words[COLUMNS.index(c)] if c in COLUMNS else c for c in order]
    other = {"Filiale": "Nord 7"}
    body: Grid = [[row[c] if c in COLUMNS else other.get(c) for c in order] for row in rows]
    if draw(st.booleans()):
        sums: dict[str, Cell] = {"units": sum(row["units"] for row in rows)}  # type: ignore[misc]
        if "net_sales" in columns:
            sums["net_sales"] = Money(sum(row["net_sales"].cents for row in rows))  # type: ignore[union-attr]
        sums[draw(st.sampled_from(("date", "product")))] = TOTAL[language]
        body += [*draw(st.sampled_from(([], [[]]))), [sums.get(c) for c in order]]
    return [*draw(st.sampled_from(TITLES)), header, *body]


TITLES: tuple[Grid, ...] = (
    [],
    [],
    [["Till report"], []],
    [["Corner store, Nord"], ["Printed", "2026-03-05"], []],
    [[], ["Date:", "", "today"]],
)


@st.composite
def _wide(draw: st.DrawFn, table: str, how: Dialect, near: list[date]) -> Case:
    """A column for each day or each line, and the other at the side; sales are at full price."""
    days = sorted(draw(st.sets(st.sampled_from(near), min_size=1, max_size=5)))
    lines = draw(st.permutations(LINES[: draw(st.integers(1, 4))]))
    over_days, language = draw(st.booleans()), draw(st.sampled_from(("en", "de", "fr", "es")))
    side, top = (list(lines), days) if over_days else (days, list(lines))
    corner = HEADERS[language].split("|")[1 if over_days else 0]
    cells = [[draw(st.none() | BIG) for _ in top] for _ in side]
    assume(any(cell is not None for row in cells for cell in row))
    as_cell = [Moment(name) if isinstance(name, date) else name for name in (*side, *top)]
    sums = draw(st.booleans())
    grid: Grid = [[draw(st.sampled_from((corner, None))), *as_cell[len(side) :]]]
    grid[0] += [TOTAL[language]] if sums else []
    for name, row in zip(as_cell, cells, strict=False):
        grid.append([name, *row, *([sum(c or 0 for c in row)] if sums else [])])
    truth: Counter[tuple[object, ...]] = Counter()
    for name, row in zip(side, cells, strict=True):
        for other, cell in zip(top, row, strict=True):
            if cell is not None:
                day, line = (other, name) if over_days else (name, other)
                truth[day, line, None, None, None, None] += cell
    money = Counter({key: PRICE_CENTS * n for key, n in truth.items()})
    titles = draw(st.sampled_from(TITLES))
    return Case(table, truth, money, [*titles, *grid], how, len(truth), table == "sales")


open_orders = dialects(
    date_style=st.just("numbers"), order=st.sampled_from(("month-day-year", "day-month-year"))
)
open_marks = dialects(cents=st.just(False), thousands=st.sampled_from(".,"))
ambiguous = cases(open_orders, latest_day=12) | cases(
    open_marks, cents=st.integers(1_000, 999_999).map(lambda whole: 100 * whole)
)
