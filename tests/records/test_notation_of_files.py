"""Numbers and dates in whole files: what the cells prove, what the store says, what is asked."""

from collections.abc import Callable, Iterator
from datetime import date, timedelta
from pathlib import Path

import polars as pl
import pytest

from shrinkwise.errors import RecordsError
from shrinkwise.records.findings import Suggestion
from shrinkwise.records.reading import read_records
from shrinkwise.records.tables import Records

Folder = Callable[..., Path]
Gives = Callable[..., Records]
Read = Callable[..., Records]

HEADER = "date;product;units;net_sales\n"
BAKES = "date;product;units\n"
ONE_SALE = [(2, 1, "2026-03-02", "Rye loaf", 5, 20.0)]


@pytest.mark.parametrize(
    ("units", "money", "expected"),
    [
        ("5", "20.00", (5, 20.0)),
        ("5", "20,00", (5, 20.0)),
        ("5.0", "20", (5, 20.0)),
        ("5,000", "20,00", (5, 20.0)),
        ("1,200", "4,800.50", (1200, 4800.5)),
        ("1.200", "4.800,50", (1200, 4800.5)),
        ("1 200", "4 800,50", (1200, 4800.5)),
        ("1\u00a0200", "4\u00a0800,50", (1200, 4800.5)),
        ("1\u202f200", "4\u202f800,50\u202f€", (1200, 4800.5)),
        ("1'200", "CHF 4'800.50", (1200, 4800.5)),
        ("5", "$20.00", (5, 20.0)),
        ("5", "20,00 €", (5, 20.0)),
        ("5", "USD 20.00", (5, 20.0)),
        ("+5", "+20.00", (5, 20.0)),
        ("5", "2E1", (5, 20.0)),
        ("0", "0.00", (0, 0.0)),
        ("-2", "-8.50", (-2, -8.5)),
        ("2-", "8.50-", (-2, -8.5)),
        ("(2)", "($8.50)", (-2, -8.5)),
        ("\u22122", "\u22128,50 €", (-2, -8.5)),
        ("-2", "-$8.50", (-2, -8.5)),
    ],
)
def test_numbers_in_the_many_ways_of_tills(
    read: Read, units: str, money: str, expected: tuple[int, float]
) -> None:
    """Each beside a sale that leaves more than a return."""
    mark = "," if "," in money and not money.endswith(".50") else "."
    text = f"{HEADER}2026-03-02;Rye loaf;{units};{money}\n2026-03-02;Bagels;9;27{mark}50\n"
    records = read({"sales.csv": text})
    rye = records.sales.filter(pl.col("product") == "Rye loaf")
    assert rye.select("units", "net_sales").rows() == [expected]
    assert records.files.row(0)[2:] == (2, 2, 0, 0)
    assert set(records.problems["severity"]) <= {"doubt"}


def days(written: Callable[[date], str], first: date, n: int) -> Iterator[str]:
    for k in range(n):
        day = first + timedelta(days=k)
        yield f"{written(day)};Rye loaf;1;4.00\n"


WAYS: dict[str, Callable[[date], str]] = {
    "day first": lambda d: f"{d:%d/%m/%Y}",
    "month first": lambda d: f"{d:%m/%d/%Y}",
    "year first": lambda d: f"{d:%Y/%m/%d}",
    "points": lambda d: f"{d.day}.{d.month}.{d.year}",
    "two digits": lambda d: f"{d:%d.%m.%y}",
    "two digits, month first": lambda d: f"{d.month}/{d.day}/{d:%y}",
    "no marks": lambda d: f"{d:%Y%m%d}",
    "English": lambda d: f"{d:%b} {d.day}, {d.year}",
    "weekday before": lambda d: f"{d:%a} {d:%d-%b-%Y}",
    "German": lambda d: f"{d.day}. {('Februar', 'März')[d.month - 2]} {d.year}",
    "French": lambda d: f"{d.day} {('févr.', 'mars')[d.month - 2]} {d.year}",
    "Spanish": lambda d: f"{d.day} de {('febrero', 'marzo')[d.month - 2]} de {d.year}",
    "day number": lambda d: str((d - date(1899, 12, 30)).days),
    "midnight": lambda d: f"{d} 00:00:00",
    "ISO midnight": lambda d: f"{d}T00:00:00.000Z",
}


@pytest.mark.parametrize("way", WAYS)
def test_dates_in_the_many_ways_of_tills(read: Read, way: str) -> None:
    """Three weeks over the end of a month: the thirteenth and later days prove the order."""
    first = date(2026, 2, 20)
    records = read({"sales.csv": HEADER + "".join(days(WAYS[way], first, 21))})
    assert records.problems.is_empty()
    assert records.sales["date"].to_list() == [first + timedelta(days=k) for k in range(21)]
    assert records.sales["hour"].null_count() == 21


OPEN_DATE = "'3/4/2026' is two different days, and no date shows which is meant"
OPEN_MARK = "'1.234' can be read in two ways, and no number shows which"


def test_dates_that_could_be_two_days_are_asked_about_and_not_guessed(gives: Gives) -> None:
    records = gives(
        {"bakes.csv": f"{BAKES}3/4/2026;Rye loaf;5\n3/5/2026;Rye loaf;5\n3/3/2026;Rye loaf;5\n"},
        ONE_SALE,
        [("not read", "bakes.csv", None, "", None, OPEN_DATE, 0)],
    )
    assert records.bakes.is_empty()
    assert records.problems["what_to_do"].item() == (
        'Say it in store.toml under [date_order]: bakes = "day-month-year" or "month-day-year".'
    )
    (asked,) = records.suggestions
    assert (asked.section, asked.key) == ("date_order", "bakes")
    assert {asked.value, asked.alternative} == {"day-month-year", "month-day-year"}


@pytest.mark.parametrize(
    ("order", "day"), [("day-month-year", "2026-04-03"), ("month-day-year", "2026-03-04")]
)
def test_the_order_that_the_store_names_is_used(gives: Gives, order: str, day: str) -> None:
    gives(
        {"bakes.csv": f"{BAKES}3/4/2026;Rye loaf;5\n"},
        [(2, 1, day, "Rye loaf", 5)],
        table="bakes",
        block=f'\n[date_order]\nbakes = "{order}"\n',
    )


def test_a_date_that_the_named_order_cannot_read_is_set_aside(gives: Gives) -> None:
    gives(
        {"bakes.csv": f"{BAKES}3/4/2026;Rye loaf;5\n3/14/2026;Rye loaf;5\n2026-03-15;Rye loaf;2\n"},
        [(4, 1, "2026-03-15", "Rye loaf", 2), (2, 1, "2026-04-03", "Rye loaf", 5)],
        [("set aside", "bakes.csv", 3, "date", "3/14/2026", "must be a date", 1)],
        table="bakes",
        block='\n[date_order]\nbakes = "day-month-year"\n',
    )


def test_days_that_are_the_same_either_way_ask_nothing(gives: Gives) -> None:
    gives(
        {"bakes.csv": f"{BAKES}3/3/2026;Rye loaf;5\n04.04.2026;Rye loaf;5\n"},
        [(2, 1, "2026-03-03", "Rye loaf", 5), (3, 1, "2026-04-04", "Rye loaf", 5)],
        table="bakes",
    )


def test_a_number_that_could_be_two_is_asked_about_and_not_guessed(gives: Gives) -> None:
    records = gives(
        {"markdowns.csv": "date;product;units;unit_price\n2026-03-04;Rye loaf;5;1.234\n"},
        ONE_SALE,
        [("not read", "markdowns.csv", None, "", None, OPEN_MARK, 0)],
    )
    assert records.problems["what_to_do"].item() == (
        'Say it in store.toml under [decimal_mark]: markdowns = "." or ",".'
    )
    assert records.suggestions == (
        Suggestion("decimal_mark", "markdowns", ".", f"markdowns.csv: {OPEN_MARK}", ","),
    )


@pytest.mark.parametrize(("mark", "price"), [(".", 1.234), (",", 1234.0)])
def test_the_decimal_mark_that_the_store_names_is_used(
    gives: Gives, mark: str, price: float
) -> None:
    dear = ("unit_price", "1234.00, Rye loaf", "is not below the full price", 1)
    gives(
        {"markdowns.csv": "date;product;units;unit_price\n2026-03-04;Rye loaf;5;1.234\n"},
        [(2, 1, "2026-03-04", "Rye loaf", 5, price)],
        [("doubt", "markdowns.csv", 2, *dear)] if price > 4 else [],
        table="markdowns",
        block=f'\n[decimal_mark]\nmarkdowns = "{mark}"\n',
    )


def test_numbers_that_contradict_each_other_are_asked_about(folder: Folder) -> None:
    text = HEADER + "2026-03-02;Rye loaf;5;20.50\n2026-03-03;Rye loaf;5;20,50\n"
    with pytest.raises(RecordsError, match="numbers that contradict each other"):
        read_records(folder({"sales.csv": text}))


def test_a_slip_in_a_hundred_is_set_aside_and_does_not_unsettle_the_rest(gives: Gives) -> None:
    """Both notations are told by hundreds of cells; the slips alone are not believed."""
    first = date(2025, 9, 1)
    lines = [
        f"{first + timedelta(days=k):%d.%m.%Y};Rye loaf;{k + 1};{4 * k + 4},5{k % 10}\n"
        for k in range(220)
    ]
    expected = [
        (k + 2, 1, str(first + timedelta(days=k)), "Rye loaf", k + 1, 4 * k + 4.5 + k % 10 / 100)
        for k in range(220)
    ]
    lines[50] = "10/25/2025;Rye loaf;51;204,50\n"
    lines[150] = f"{first + timedelta(days=150):%d.%m.%Y};Rye loaf;151;604.50\n"
    kept = [row for k, row in enumerate(expected) if k not in (50, 150)]
    no_sale = "has no sale of any line, and no event says that the store was closed"
    gives(
        {"sales.csv": HEADER + "".join(lines)},
        [(row, n, day, name, units, pytest.approx(net)) for row, n, day, name, units, net in kept],
        [
            ("set aside", "sales.csv", 52, "date", "10/25/2025", "must be a date", 1),
            ("set aside", "sales.csv", 152, "net_sales", "604.50", "must be an amount", 1),
            ("doubt", "sales", None, "date", "2025-10-21", no_sale, 0),
            ("doubt", "sales", None, "date", "2026-01-29", no_sale, 0),
        ],
    )


def test_a_percentage_is_no_amount(gives: Gives) -> None:
    gives(
        {
            "sales.csv": HEADER + "2026-03-02;Rye loaf;5;20.00\n2026-03-02;Rye loaf;5;20%\n"
            "2026-03-02;Rye loaf;5 %;20\n",
            "markdowns.csv": "date;product;units;unit_price\n2026-03-04;Rye loaf;5;30%\n"
            "2026-03-04;Rye loaf;5;2.00\n",
        },
        [(3, 1, "2026-03-04", "Rye loaf", 5, 2.0)],
        [
            (
                "set aside", "sales.csv", 4, "units", "5 %",
                "is a percentage where a number belongs", 1,
            ),
            (
                "set aside", "sales.csv", 3, "net_sales", "20%",
                "is a percentage where a number belongs", 1,
            ),
            (
                "set aside", "markdowns.csv", 2, "unit_price", "30%",
                "is a percentage where an amount belongs", 1,
            ),
        ],
        table="markdowns",
    )  # fmt: skip


def test_prices_with_a_decimal_comma_and_a_currency_sign(gives: Gives) -> None:
    """The price is one of the columns that must be the same where rows are summed."""
    gives(
        {
            "markdowns.csv": "Datum;Artikel;Menge;Neuer Preis\n"
            "2026-03-04;Rye loaf;5;2,50\n2026-03-04;Rye loaf;1;2,50 €\n2026-03-04;Rye loaf;1;2\n",
            "events.csv": "Datum;Artikel;Art;Aktionspreis\n2026-03-04;Rye loaf;Aktion;2,75\n",
        },
        [
            (2, 2, "2026-03-04", "Rye loaf", 6, 2.5),
            (4, 1, "2026-03-04", "Rye loaf", 1, 2.0),
        ],
        table="markdowns",
    )


def test_a_till_that_stamps_its_tickets_gives_the_hour(gives: Gives) -> None:
    text = HEADER + (
        "02/03/2026 09:15;Rye loaf;1;4\n02/03/2026 09:59:59;Rye loaf;2;8\n"
        "02/03/2026 5:05 pm;Rye loaf;1;4\n13/03/2026 00:10;Rye loaf;1;4\n"
    )
    gives(
        {"sales.csv": text, "events.csv": "".join(closed())},
        [
            (2, 2, "2026-03-02", "Rye loaf", 3, 12.0, 9),
            (4, 1, "2026-03-02", "Rye loaf", 1, 4.0, 17),
            (5, 1, "2026-03-13", "Rye loaf", 1, 4.0, 0),
        ],
    )


def closed() -> Iterator[str]:
    yield "date,kind\n"
    for day in range(3, 13):
        yield f"2026-03-{day:02},closed\n"


def test_hours_as_spans_and_clocks(gives: Gives) -> None:
    rows = ["9", "09:30", "9-10", "9:00 - 10:00", "9 Uhr", "9h15", "9:45 AM", "9.0"]
    text = "date;product;units;net_sales;hour\n" + "".join(
        f"2026-03-02;Rye loaf;1;4;{hour}\n" for hour in rows
    )
    gives({"sales.csv": text}, [(2, 8, "2026-03-02", "Rye loaf", 8, 32.0, 9)])
