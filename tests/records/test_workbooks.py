"""Excel workbooks and Parquet files as people and programs save them, each with its table."""

import zipfile
from collections.abc import Callable
from datetime import date, datetime, time
from decimal import Decimal
from pathlib import Path

import polars as pl
import pytest
import xlsxwriter

from shrinkwise.records.tables import Records

Gives = Callable[..., Records]
Read = Callable[..., Records]
Row = list[object]

HEADER: Row = ["date", "product", "units", "net_sales"]
MARCH: list[Row] = [
    HEADER,
    [date(2026, 3, 2), "Rye loaf", 5, 20.0],
    [date(2026, 3, 3), "Bagels", 2, 6.5],
]
MARCH_ROWS = [(2, 1, "2026-03-02", "Rye loaf", 5, 20.0), (3, 1, "2026-03-03", "Bagels", 2, 6.5)]
ONE_SALE = [(2, 1, "2026-03-02", "Rye loaf", 5, 20.0)]


def workbook(
    sheets: dict[str, list[Row]], hidden: tuple[str, ...] = (), title: str = ""
) -> Callable[[Path], None]:
    """Writes sheets with the dates, times and numbers as Excel holds them.

    A `title` is written into merged cells over the first row of the first sheet; a text that
    begins with an equals sign is a formula whose value is 7.
    """

    def write(path: Path) -> None:
        with xlsxwriter.Workbook(path) as book:
            forms = {
                datetime: book.add_format({"num_format": "yyyy-mm-dd hh:mm"}),
                date: book.add_format({"num_format": "dd.mm.yyyy"}),
                time: book.add_format({"num_format": "hh:mm"}),
            }
            for name, rows in sheets.items():
                sheet = book.add_worksheet(name)
                for row, cells in enumerate(rows):
                    for column, cell in enumerate(cells):
                        if isinstance(cell, date | time):
                            sheet.write_datetime(row, column, cell, forms[type(cell)])
                        elif isinstance(cell, str) and cell.startswith("="):
                            sheet.write_formula(row, column, cell, None, 7)
                        elif cell is not None:
                            sheet.write(row, column, cell)
                if name in hidden:
                    sheet.hide()
            if title:
                book.worksheets()[0].merge_range(0, 0, 0, 3, title)

    return write


NOTHING: Row = []


@pytest.mark.parametrize(
    ("rows", "expected"),
    [
        (MARCH, MARCH_ROWS),
        (
            [HEADER, [46083, "Rye loaf", 5, 20.0], [46084, "Bagels", 2, 6.5]],
            MARCH_ROWS,
        ),
        (
            [HEADER, ["02.03.2026", "Rye loaf", "5", "20,00"], ["03.03.2026", "Bagels", "2", "6,5"],
             ["13.03.2026", "Total", None, None]],
            MARCH_ROWS,
        ),
        (
            [HEADER, [date(2026, 3, 2), "Rye loaf", "=2+5", 28.0]],
            [(2, 1, "2026-03-02", "Rye loaf", 7, 28.0)],
        ),
        (
            [[*HEADER, "reduced"], [date(2026, 3, 2), "Rye loaf", 5, 0.1 + 0.2, True]],
            [(2, 1, "2026-03-02", "Rye loaf", 5, 0.3, None, True)],
        ),
        (
            [HEADER, [datetime(2026, 3, 2), "Rye loaf", 1, 4],
             [datetime(2026, 3, 3), "Bagels", 1, 3]],
            [(2, 1, "2026-03-02", "Rye loaf", 1, 4.0), (3, 1, "2026-03-03", "Bagels", 1, 3.0)],
        ),
        (
            [HEADER, [datetime(2026, 3, 2, 9, 15), "Rye loaf", 1, 4],
             [datetime(2026, 3, 2, 9, 50), "Rye loaf", 2, 8],
             [datetime(2026, 3, 2, 17, 5), "Rye loaf", 1, 4]],
            [(2, 2, "2026-03-02", "Rye loaf", 3, 12.0, 9),
             (4, 1, "2026-03-02", "Rye loaf", 1, 4.0, 17)],
        ),
        (
            [[*HEADER, "time"], [date(2026, 3, 2), "Rye loaf", 1, 4, time(9, 15)],
             [date(2026, 3, 2), "Rye loaf", 1, 4, 9]],
            [(2, 2, "2026-03-02", "Rye loaf", 2, 8.0, 9)],
        ),
        (
            [NOTHING, NOTHING, [None, *HEADER], [None, *MARCH[1]], NOTHING, [None, *MARCH[2]]],
            [(4, 1, *MARCH_ROWS[0][2:]), (6, 1, *MARCH_ROWS[1][2:])],
        ),
    ],
    ids=["dates", "day numbers", "texts", "a formula", "yes and no", "midnights", "moments",
         "times of day", "away from the corner"],
)  # fmt: skip
def test_the_cells_of_a_workbook(
    gives: Gives, rows: list[Row], expected: list[tuple[object, ...]]
) -> None:
    notes = [("note", "sales.xlsx", 4, "", "Total", "is a row of totals", 1)]
    has_total = any("Total" in row for row in rows)
    gives(
        {"sales.csv": None, "sales.xlsx": workbook({"Sales": rows})},
        expected,
        notes if has_total else [],
    )


def test_a_title_in_merged_cells_is_passed_over(gives: Gives) -> None:
    sheet = workbook({"Sales": [NOTHING, NOTHING, *MARCH]}, title="Corner store, March")
    gives(
        {"sales.csv": None, "sales.xlsx": sheet},
        [(row + 2, *rest) for row, *rest in MARCH_ROWS],
    )


def test_a_sheet_for_each_month_is_one_table(gives: Gives) -> None:
    """Notes and hidden sheets beside them are left out and said so; an empty one is nothing."""
    book = workbook(
        {
            "March": MARCH,
            "April": [HEADER, [date(2026, 3, 4), "Rye loaf", 1, 4.0]],
            "Notes": [["Ring the till's maker", "by Friday"]],
            "Old": [HEADER, [date(2025, 4, 1), "Rye loaf", 1, 4.0]],
            "Blank": [],
        },
        hidden=("Old",),
    )
    records = gives(
        {"sales.csv": None, "sales.xlsx": book},
        [*MARCH_ROWS, (2, 1, "2026-03-04", "Rye loaf", 1, 4.0)],
        [
            (
                "note", "sales.xlsx", None, "", None,
                "has a hidden sheet, 'Old', that is not read", 0,
            ),
            (
                "note", "sales.xlsx [Notes]", None, "", None,
                "is a sheet without the columns of sales", 0,
            ),
        ],
    )  # fmt: skip
    assert records.files["file"].to_list() == [
        "sales.xlsx [March]", "sales.xlsx [April]", "disposals.csv"
    ]  # fmt: skip


def test_a_month_with_a_fault_in_its_header_is_not_taken_for_notes(read: Read) -> None:
    april: list[Row] = [["date", "product", "Ut", "net"], [date(2026, 4, 1), "Bagels", 2, 6.5]]
    book = workbook({"March": MARCH, "April": april})
    records = read({"sales.csv": None, "sales.xlsx": book})
    assert records.problems.select("severity", "file", "rule").rows() == [
        (
            "not read",
            "sales.xlsx [April]",
            "has no column 'units'; its headers are: date, product, Ut, net",
        )
    ]


def test_of_two_sheets_with_the_same_day_the_one_behind_is_used(gives: Gives) -> None:
    """Where it stands in the workbook counts, not how it is called."""
    second: list[Row] = [HEADER, [date(2026, 3, 3), "Bagels", 4, 13.0]]
    gives(
        {"sales.csv": None, "sales.xlsx": workbook({"March": MARCH, "Corrected": second})},
        [MARCH_ROWS[0], (2, 1, "2026-03-03", "Bagels", 4, 13.0)],
        [
            (
                "replaced", "sales.xlsx [March]", 3, "date", "2026-03-03 to 2026-03-03",
                "is held again by sales.xlsx [Corrected], which is used", 1,
            )
        ],
    )  # fmt: skip


def test_a_workbook_with_a_column_for_each_day(gives: Gives) -> None:
    sheet: list[Row] = [
        ["Item", date(2026, 3, 2), date(2026, 3, 3)],
        ["Rye loaf", 5, None],
        ["Bagels", 2, 3],
    ]
    gives(
        {"bakes.xlsx": workbook({"Bakes": sheet})},
        [
            (3, 1, "2026-03-02", "Bagels", 2),
            (2, 1, "2026-03-02", "Rye loaf", 5),
            (3, 1, "2026-03-03", "Bagels", 3),
        ],
        table="bakes",
    )


def stray(row: int, column: int) -> Callable[[Path], None]:
    """A small table and one stray cell."""

    def write(path: Path) -> None:
        with xlsxwriter.Workbook(path) as book:
            sheet = book.add_worksheet()
            sheet.write_row(0, 0, ["date", "product", "units"])
            sheet.write_row(1, 0, ["2026-03-02", "Rye loaf", 5])
            sheet.write(row, column, " ")

    return write


def test_a_stray_cell_far_to_the_right_or_far_down_is_nothing(gives: Gives) -> None:
    for place in ((1, 16_383), (60_000, 2)):
        gives({"bakes.xlsx": stray(*place)}, [(2, 1, "2026-03-02", "Rye loaf", 5)], table="bakes")


def bomb(path: Path) -> None:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/worksheets/sheet1.xml", b" " * 3_000_000)


def cut(path: Path) -> None:
    workbook({"Bakes": MARCH})(path)
    path.write_bytes(path.read_bytes()[:2000])


def other_archive(path: Path) -> None:
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("letter.txt", "Dear store")


NO_WORKBOOK = "is no whole Excel workbook; it may be half-copied, locked or protected"
NO_COLUMN = "has no column 'date'; its headers are: "


@pytest.mark.parametrize(
    ("content", "rule"),
    [
        (bomb, "is larger than 1 MB once unpacked"),
        (cut, NO_WORKBOOK),
        (other_archive, "cannot be read as an Excel workbook"),
        (workbook({"Bakes": []}), "is empty"),
        (workbook({"Bakes": [["Nothing", "here"]]}), NO_COLUMN + "Nothing, here"),
        (stray(1_048_575, 16_383), "has cells far from its table, down to row 1048576"),
    ],
    ids=["bomb", "cut off", "other archive", "no cells", "no table", "stray cell in the corner"],
)
def test_a_workbook_that_cannot_be_used_is_a_finding(
    gives: Gives, content: Callable[[Path], None], rule: str
) -> None:
    gives(
        {"bakes.xlsx": content},
        ONE_SALE,
        [("not read", "bakes.xlsx", None, "", None, rule, 0)],
        block="\nlargest_file_mb = 1\n",
    )


PLAIN = pl.DataFrame(
    {
        "date": [date(2026, 3, 2), date(2026, 3, 3)],
        "product": ["Rye loaf", "Bagels"],
        "units": [5, 2],
        "net_sales": [20.0, 6.5],
    }
)


@pytest.mark.parametrize(
    "table",
    [
        PLAIN,
        PLAIN.cast({"product": pl.Categorical, "units": pl.Int8, "net_sales": pl.Float32}),
        PLAIN.cast({"units": pl.Float64}),
        PLAIN.with_columns(net_sales=pl.Series([Decimal("20.00"), Decimal("6.50")])),
        PLAIN.with_columns(
            notes=pl.Series([["a"], ["b", "c"]]),
            pair=pl.struct("units", "net_sales"),
            bytes=pl.Series([b"\xff", b""]),
        ),
        PLAIN.cast({"date": pl.Datetime("ns")}),
        PLAIN.with_columns(date=pl.col("date").dt.to_string()),
    ],
    ids=["plain", "categories", "units with a point", "decimals", "nested columns beside it",
         "midnights", "text dates"],
)  # fmt: skip
def test_parquet_of_any_types_is_the_same_table(gives: Gives, table: pl.DataFrame) -> None:
    gives({"sales.csv": None, "sales.parquet": table.write_parquet}, MARCH_ROWS)


def test_parquet_with_moments_and_times_gives_the_hour(gives: Gives) -> None:
    moments = PLAIN.with_columns(
        date=pl.Series(
            [datetime(2026, 3, 2, 9, 15), datetime(2026, 3, 3, 17)]
        ).dt.replace_time_zone("Europe/Berlin")
    )
    expected = [(*MARCH_ROWS[0], 9), (*MARCH_ROWS[1], 17)]
    gives({"sales.csv": None, "sales.parquet": moments.write_parquet}, expected)
    times = PLAIN.with_columns(time=pl.Series([time(9, 15), time(17)]))
    gives({"sales.csv": None, "sales.parquet": times.write_parquet}, expected)


def test_what_is_no_number_in_parquet_is_set_aside(gives: Gives) -> None:
    table = pl.concat([PLAIN, PLAIN]).with_columns(
        units=pl.Series([5.0, 2.0, float("nan"), 2.5]),
        net_sales=pl.Series([20.0, 6.5, 8.0, float("inf")]),
    )
    gives(
        {"sales.csv": None, "sales.parquet": table.write_parquet},
        MARCH_ROWS,
        [
            ("set aside", "sales.parquet", 4, "units", "nan", "must be a whole number", 1),
            ("set aside", "sales.parquet", 5, "units", "2.5", "must be a whole number", 1),
            ("set aside", "sales.parquet", 5, "net_sales", "inf", "must be an amount", 1),
        ],
    )


@pytest.mark.parametrize("kept", [0, 4, 200])
def test_a_parquet_file_cut_short_is_a_finding(gives: Gives, kept: int) -> None:
    def half(path: Path) -> None:
        PLAIN.write_parquet(path)
        path.write_bytes(path.read_bytes()[:kept])

    rule = "cannot be read as Parquet; it may be half-copied"
    gives(
        {"bakes.parquet": half}, ONE_SALE, [("not read", "bakes.parquet", None, "", None, rule, 0)]
    )


def test_a_parquet_file_without_rows_is_an_empty_table(gives: Gives) -> None:
    gives({"bakes.parquet": PLAIN.head(0).write_parquet}, [], table="bakes")
