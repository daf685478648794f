"""Reading a records folder: every row is used or set aside with its place and its fault."""

from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path

import polars as pl
import pytest

from shrinkwise.errors import ProfileError, RecordsError
from shrinkwise.records.reading import read_records
from shrinkwise.records.tables import Records

Folder = Callable[..., Path]
Read = Callable[..., Records]

HEADERS = {
    "sales": "date,product,units,net_sales,hour,reduced",
    "markdowns": "date,product,units,unit_price,bake_date",
    "disposals": "date,product,units,reason,bake_date",
    "bakes": "date,product,units",
    "counts": "date,product,units,bake_date",
    "events": "date,product,kind,unit_price",
}
GOOD = {
    "sales": "2026-03-02,Rye loaf,5,20.00,9,no",
    "markdowns": "2026-03-04,Rye loaf,2,2.00,2026-03-02",
    "disposals": "2026-03-04,Rye loaf,1,out of date,2026-03-02",
    "bakes": "2026-03-02,Rye loaf,12",
    "counts": "2026-03-02,Rye loaf,7,2026-03-02",
    "events": "2026-03-02,Rye loaf,promotion,3.50",
}
# the same on the next day, since equal rows would be summed
NEXT_DAY = {table: f"{row[:9]}{int(row[9]) + 1}{row[10:]}" for table, row in GOOD.items()}
DATE, WHOLE, AMOUNT = "must be a date", "must be a whole number", "must be an amount"
LOW, HIGH = "is below the lowest possible value", "is beyond the highest possible value"
EMPTY, UNKNOWN = "must not be empty", "must be a line of store.toml"
HOUR = "must be an hour of the day, 0 to 23"
KIND = "must be one of holiday, school holiday, promotion, local event, closed"

# table, row, and its findings: column, value as it stands in the file, rule
FAULTS: list[tuple[str, str, list[tuple[str, str | None, str]]]] = [
    ("sales", "02/30/2026,Rye loaf,5,20,,", [("date", "02/30/2026", DATE)]),
    ("sales", "2026-02-30,Rye loaf,5,20,,", [("date", "2026-02-30", DATE)]),
    ("sales", ",Rye loaf,5,20,,", [("date", None, EMPTY)]),
    ("sales", "1999-12-31,Rye loaf,5,20,,", [("date", "1999-12-31", LOW)]),
    ("sales", "2100-01-02,Rye loaf,5,20,,", [("date", "2100-01-02", HIGH)]),
    ("sales", "2026-03-02,Rye bread,5,20,,", [("product", "Rye bread", UNKNOWN)]),
    ("sales", "2026-03-02,,5,20,,", [("product", None, EMPTY)]),
    ("sales", "2026-03-02,Rye loaf,five,20,,", [("units", "five", WHOLE)]),
    ("sales", "2026-03-02,Rye loaf,2.5,20,,", [("units", "2.5", WHOLE)]),
    ("sales", "2026-03-02,Rye loaf,1e12,20,,", [("units", "1e12", WHOLE)]),
    ("sales", "2026-03-02,Rye loaf,,20,,", [("units", None, EMPTY)]),
    ("sales", "2026-03-02,Rye loaf,5,20 each,,", [("net_sales", "20 each", AMOUNT)]),
    ("sales", '2026-03-02,Rye loaf,5,"2,00.0",,', [("net_sales", "2,00.0", AMOUNT)]),
    ("sales", "2026-03-02,Rye loaf,5,inf,,", [("net_sales", "inf", AMOUNT)]),
    ("sales", "2026-03-02,Rye loaf,5,,,", [("net_sales", None, EMPTY)]),
    (
        "sales",
        "2026-03-02,Rye loaf,-1,4,,",
        [("net_sales", "4", "units and net_sales must have the same sign")],
    ),
    ("sales", "2026-03-02,Rye loaf,5,20,24,", [("hour", "24", HOUR)]),
    ("sales", "2026-03-02,Rye loaf,5,20,-1,", [("hour", "-1", HOUR)]),
    ("sales", "2026-03-02,Rye loaf,5,20,,maybe", [("reduced", "maybe", "must be yes or no")]),
    # a row with two faults stands in the table twice and is one row set aside
    ("sales", "tomorrow,Rye loaf,few,20,,", [("date", "tomorrow", DATE), ("units", "few", WHOLE)]),
    ("markdowns", "2026-03-02,Rye loaf,-2,2,", [("units", "-2", LOW)]),
    ("markdowns", "2026-03-02,Rye loaf,2,-0.5,", [("unit_price", "-0.5", LOW)]),
    ("markdowns", "2026-03-02,Rye loaf,2,,", [("unit_price", None, EMPTY)]),
    ("markdowns", "2026-03-02,Rye loaf,2,2,Monday", [("bake_date", "Monday", DATE)]),
    (
        "markdowns",
        "2026-03-02,Rye loaf,2,2,2026-03-03",
        [("bake_date", "2026-03-03", "bake_date must not be after date")],
    ),
    ("disposals", "2026-03-02,Rye loaf,-1,,", [("units", "-1", LOW)]),
    (
        "disposals",
        "2026-03-02,Rye loaf,1,,2026-03-03",
        [("bake_date", "2026-03-03", "bake_date must not be after date")],
    ),
    ("bakes", "2026-03-02,Rye loaf,-12", [("units", "-12", LOW)]),
    ("bakes", "2026-03-02,Totals of bread,240", [("product", "Totals of bread", UNKNOWN)]),
    ("counts", "2026-03-02,Rye loaf,-7,", [("units", "-7", LOW)]),
    ("events", "2026-03-02,,street fair,", [("kind", "street fair", KIND)]),
    ("events", "2026-03-02,,,", [("kind", None, EMPTY)]),
    ("events", "2026-03-02,Rye bread,promotion,3", [("product", "Rye bread", UNKNOWN)]),
    ("events", "2026-03-02,Rye loaf,promotion,-3", [("unit_price", "-3", LOW)]),
]


@pytest.mark.parametrize(
    ("table", "row", "expected"), FAULTS, ids=[f"{table}: {row}" for table, row, _ in FAULTS]
)
def test_a_faulty_row_is_set_aside_with_file_row_column_and_value(
    read: Read, table: str, row: str, expected: list[tuple[str, str | None, str]]
) -> None:
    text = "\n".join([HEADERS[table], GOOD[table], row, NEXT_DAY[table]]) + "\n"
    records = read({f"{table}.csv": text})
    found = records.problems
    # the header is row 1 as in a spreadsheet, so the faulty row is row 3
    places = [(f"{table}.csv", 3, column, value, rule, 1) for column, value, rule in expected]
    assert found.select("file", "row", "column", "value", "rule", "rows").rows() == places
    assert set(found["severity"]) == {"set aside"}
    assert all(found["what_to_do"].str.len_chars() > 10)
    assert getattr(records, table)["row"].to_list() == [2, 4]
    files = {name: rest for name, *rest in records.files.iter_rows()}
    assert files[f"{table}.csv"] == [table, 3, 2, 1, 0]


def test_good_rows_of_every_table_arrive_typed(read: Read) -> None:
    records = read({f"{table}.csv": f"{HEADERS[table]}\n{GOOD[table]}\n" for table in HEADERS})
    assert records.problems.is_empty()
    assert records.sales.row(0, named=True) == {
        "file": "sales.csv",
        "row": 2,
        "rows": 1,
        "date": date(2026, 3, 2),
        "product": "Rye loaf",
        "units": 5,
        "net_sales": 20.0,
        "hour": 9,
        "reduced": False,
    }
    assert records.markdowns["bake_date"].to_list() == [date(2026, 3, 2)]
    assert records.disposals["reason"].to_list() == ["out of date"]
    assert records.events["kind"].to_list() == ["promotion"]
    assert (records.first_date, records.last_date) == (date(2026, 3, 2), date(2026, 3, 2))


def test_equal_rows_are_summed_and_counted(read: Read) -> None:
    """As a till writes them that has a row for each ticket; all but amounts must be the same."""
    texts = {
        table: "\n".join([HEADERS[table], *2 * [GOOD[table]], NEXT_DAY[table], GOOD[table]])
        for table in HEADERS
    }
    records = read({f"{table}.csv": text for table, text in texts.items()})
    assert records.problems.is_empty()
    for table in HEADERS:
        assert getattr(records, table).select("row", "rows").rows() == [(2, 3), (4, 1)]
    assert records.sales.select("units", "net_sales").rows() == [(15, 60.0), (5, 20.0)]
    assert records.markdowns.select("units", "unit_price").rows() == [(6, 2.0), (2, 2.0)]
    assert records.bakes["units"].to_list() == [36, 12]
    assert records.events["unit_price"].to_list() == [3.5, 3.5]


def test_rows_that_differ_in_more_than_amounts_are_not_summed(read: Read) -> None:
    text = (
        "date,product,units,net_sales,hour,reduced\n"
        "2026-03-02,Rye loaf,1,4,9,no\n"
        "2026-03-02,Rye loaf,1,4,10,no\n"
        "2026-03-02,Rye loaf,1,2,10,yes\n"
        "2026-03-02,Rye loaf,1,4,,\n"
    )
    records = read({"sales.csv": text})
    assert sorted(records.sales["row"]) == [2, 3, 4, 5]


def test_a_row_of_totals_is_left_out_with_a_note(read: Read) -> None:
    text = "\n".join([HEADERS["bakes"], GOOD["bakes"], "2026-03-02,Total,240"])
    records = read({"bakes.csv": text})
    assert records.bakes["units"].to_list() == [12]
    assert records.problems.select("severity", "row", "value", "rule").rows() == [
        ("note", 3, "Total", "is a row of totals")
    ]
    assert records.want_a_look.is_empty()


def test_amounts_with_a_currency_sign_or_a_decimal_comma_are_amounts(read: Read) -> None:
    dollars = f"{HEADERS['sales']}\n{GOOD['sales']}\n2026-03-03,Rye loaf,5,$20,,\n"
    assert read({"sales.csv": dollars}).sales["net_sales"].to_list() == [20.0, 20.0]
    commas = f'{HEADERS["sales"]}\n2026-03-02,Rye loaf,5,"20,00",,\n'
    records = read({"sales.csv": commas})
    assert records.sales["net_sales"].to_list() == [20.0]
    assert records.problems.is_empty()


def test_optional_columns_may_be_away_or_empty(read: Read) -> None:
    records = read(
        {"events.csv": "date,kind\n2026-03-04,closed\n", "counts.csv": HEADERS["counts"]}
    )
    assert records.problems.is_empty()
    assert records.sales["hour"].to_list() == [None]
    assert records.sales["reduced"].to_list() == [None]
    assert records.events.select("product", "unit_price").rows() == [(None, None)]
    assert records.counts.is_empty()


def test_a_return_is_a_sale_of_negative_units(read: Read) -> None:
    records = read({"sales.csv": "date,product,units,net_sales\n2026-03-02,Rye loaf,-2,-8.00\n"})
    assert records.sales.select("units", "net_sales").rows() == [(-2, -8.0)]


def test_words_for_yes_and_no_spaces_and_capitals(read: Read) -> None:
    rows = ["Yes", "n", "TRUE", "0", "1", ""]
    lines = [f" 2026-03-0{day} , Rye loaf ,5.0, 20,,{word}" for day, word in enumerate(rows, 2)]
    text = " Date ,PRODUCT,Units,net_sales,hour,reduced\n" + "\n".join(lines) + "\n"
    records = read({"sales.csv": text, "events.csv": "date,kind\n2026-03-02,Closed"})
    assert records.problems.select("severity", "file", "row", "value", "rule").rows() == [
        (
            "doubt",
            "sales.csv",
            2,
            "2026-03-02",
            "has sales, although an event says that the store was closed",
        )
    ]
    assert records.sales["reduced"].to_list() == [True, False, True, False, True, None]
    assert set(records.sales["product"]) == {"Rye loaf"}
    assert records.events["kind"].to_list() == ["closed"]


def test_a_blank_line_is_no_row_but_the_rows_after_it_keep_their_numbers(read: Read) -> None:
    text = "date,product,units\n2026-03-02,Rye loaf,1\n\n2026-03-02,Rye loaf,x\n"
    records = read({"bakes.csv": text})
    assert records.problems.select("row", "value").rows() == [(4, "x")]
    files = {name: rest for name, *rest in records.files.iter_rows()}
    assert files["bakes.csv"] == ["bakes", 2, 1, 1, 0]


def test_several_files_of_a_table_are_one_table(read: Read) -> None:
    """In the order of days; each row still says from which file it came."""
    header = "date,product,units,net_sales\n"
    records = read(
        {
            "sales.csv": None,
            "sales_b.csv": header + "2026-03-02,Rye loaf,5,20\n2026-03-04,Bagels,2,6\n",
            "sales_a.csv": header + "2026-03-03,Rye loaf,4,16\n2026-03-03,Rye bread,4,16\n",
            "Sales 2025.CSV": header + "2026-03-01,Bagels,1,3\n",
            # not a log: neither by name nor by ending
            "notes.csv": "a,b\n",
            "sales.pdf": "",
        }
    )
    assert records.problems.filter(pl.col("file") == "sales.pdf")["severity"].item() == "note"
    assert records.sales.select("date", "file", "row").rows() == [
        (date(2026, 3, 1), "Sales 2025.CSV", 2),
        (date(2026, 3, 2), "sales_b.csv", 2),
        (date(2026, 3, 3), "sales_a.csv", 2),
        (date(2026, 3, 4), "sales_b.csv", 3),
    ]
    assert records.files["file"].to_list() == [
        "Sales 2025.CSV", "sales_a.csv", "sales_b.csv", "disposals.csv",
    ]  # fmt: skip
    assert records.files["rows_set_aside"].to_list() == [0, 1, 0, 0]


TABLE = pl.DataFrame(
    {
        "date": [date(2026, 3, 2), date(2026, 3, 3), date(2026, 3, 3)],
        "product": ["Rye loaf", "Bagels", "Rye bread"],
        "units": [5, 4, 3],
        "net_sales": [20.0, 12.5, 9.0],
        "reduced": [False, True, False],
    }
)


def write_table(path: Path, table: pl.DataFrame) -> None:
    match path.suffix:
        case ".xlsx":
            table.write_excel(path)
        case ".parquet":
            table.write_parquet(path)
        case _:
            table.write_csv(path)


@pytest.mark.parametrize("moment", [False, True], ids=["dates", "moments"])
@pytest.mark.parametrize("ending", [".xlsx", ".parquet", ".csv"])
def test_excel_and_parquet_give_the_table_that_csv_gives(
    folder: Folder, ending: str, moment: bool
) -> None:
    """Also where a program wrote midnight of the day in place of the day."""
    path = folder()
    write_table(path / "sales.csv", TABLE)
    plain = read_records(path)
    assert plain.sales["units"].to_list() == [5, 4]
    assert plain.sales["reduced"].to_list() == [False, True]
    assert plain.problems.select("row", "value").rows() == [(4, "Rye bread")]

    (path / "sales.csv").unlink()
    midnight = TABLE.with_columns(pl.col("date").cast(pl.Datetime("ns")))
    write_table(path / f"sales{ending}", midnight if moment else TABLE)
    other = read_records(path)
    assert other.sales.drop("file").equals(plain.sales.drop("file"))
    assert other.problems.drop("file").equals(plain.problems.drop("file"))
    assert other.fingerprint != plain.fingerprint or ending == ".csv"


def test_moments_within_a_day_count_for_the_day_and_give_the_hour(folder: Folder) -> None:
    path = folder({"sales.csv": None})
    moments = [datetime(2026, 3, 2, 0, 0), datetime(2026, 3, 2, 23, 59, 59, 999_000)]
    table = TABLE.head(2).with_columns(date=pl.Series(moments))
    write_table(path / "sales.parquet", table)
    sales = read_records(path).sales.sort("row")
    assert sales.select("date", "hour").rows() == [(date(2026, 3, 2), 0), (date(2026, 3, 2), 23)]


OWN_HEADERS = """
[columns.sales]
date = "Business date"
product = "Item"
units = "Qty sold"
net_sales = "Net $"
"""


def test_the_till_s_own_headers(read: Read) -> None:
    text = "Store,Business Date,Item, qty sold,Net $\n7,2026-03-02,Rye loaf,5,20\n"
    records = read({"sales.csv": text}, OWN_HEADERS)
    assert records.problems.is_empty()
    assert records.sales.select("date", "product", "units", "net_sales").rows() == [
        (date(2026, 3, 2), "Rye loaf", 5, 20.0)
    ]


def test_columns_called_row_and_file_are_the_till_s_own_business(read: Read) -> None:
    text = "row,rows,file,date,product,units,net_sales\n901,7,x,2026-03-02,Rye loaf,5,20\n"
    records = read({"sales.csv": text})
    assert records.sales.select("file", "row", "rows").rows() == [("sales.csv", 2, 1)]


def refusal(path: Path) -> str:
    with pytest.raises(RecordsError) as caught:
        read_records(path)
    return str(caught.value)


NO_UNITS = "date,product,Stk.,net_sales\n2026-03-02,Rye loaf,5,20.50\n"


@pytest.mark.parametrize(
    ("files", "block", "words"),
    [
        (
            {"sales.csv": NO_UNITS},
            "",
            [
                "sales.csv has no column 'units'",
                "date, product, Stk., net_sales",
                "[columns.sales]",
            ],
        ),
        (
            {},
            '\n[columns.sales]\nhour = "Hr"\n',
            ["sales.csv has no column 'Hr'", "date, product, units, net_sales"],
        ),
        (
            {},
            '\n[columns.sales]\nqty = "Qty"\n',
            ["store.toml, [columns.sales]: there is no column 'qty'", "date, product, units"],
        ),
        (
            {"sales.csv": "date,date ,product,units,net_sales\n"},
            "",
            ["sales.csv has the headers 'date' and 'date', which both name date", "Rename"],
        ),
        (
            {"sales.csv": "date,Date,product,units,net_sales\n"},
            "",
            ["sales.csv has the headers 'date' and 'Date', which both name date", "Rename"],
        ),
        (
            {"sales.csv": "date,product,units,qty sold,quantity,revenue\n"},
            "",
            ["No row of the sales log can be used. It holds a header and no rows."],
        ),
        (
            {"sales.csv": "date,product,qty sold,quantity,revenue\n"},
            "",
            ["'qty sold' and 'quantity', which both name units", 'units = "qty sold"'],
        ),
    ],
    ids=[
        "missing", "own header missing", "no such column", "twice", "capitals",
        "house name beside plain words", "two plain words",
    ],
)  # fmt: skip
def test_columns_of_the_sales_that_cannot_be_matched(
    folder: Folder, files: dict[str, str], block: str, words: list[str]
) -> None:
    message = refusal(folder(files, block))
    for word in words:
        assert word in message


def test_another_delimiter_is_found_out(read: Read) -> None:
    records = read({"bakes.csv": "date;product;units\n2026-03-02;Rye loaf;7\n"})
    assert records.bakes["units"].to_list() == [7]
    assert records.problems.is_empty()


@pytest.mark.parametrize(
    ("files", "message"),
    [
        ({"sales.csv": None}, "has no sales log."),
        ({"disposals.csv": None}, "has neither a markdown nor a disposal log"),
        ({"sales.csv": None, "disposals.csv": None}, "holds no logs."),
        ({"sales.csv": ""}, "The first: sales.csv is empty. Export it again"),
        (
            {"sales.csv": "date,product,units,net_sales\n"},
            "No row of the sales log can be used. It holds a header and no rows.",
        ),
        (
            {"sales.csv": "date,product,units,net_sales\n31.2.26,Rye loaf,5,20\n"},
            "The first: sales.csv, row 2, date '31.2.26': must be a date.",
        ),
        (
            {"sales.csv": "date,product,units,net_sales\n3.4.26,Rye loaf,5,20\n"},
            "The first: sales.csv '3.4.26' is two different days, and no date shows which is "
            "meant. Say it in store.toml under [date_order]: sales =",
        ),
        (
            {"sales.csv": f'{HEADERS["sales"]}\n{GOOD["sales"]}\n2026-03-02,Bagels,5,"20,00",,\n'},
            "The first: sales.csv has numbers that contradict each other in how they are "
            "written. Say it in store.toml under [decimal_mark]: sales =",
        ),
    ],
)
def test_a_folder_without_usable_sales_is_refused_with_what_to_do(
    folder: Folder, files: dict[str, str | bytes | None], message: str
) -> None:
    assert message in refusal(folder(files))


NO_WORKBOOK = "is no whole Excel workbook; it may be half-copied, locked or protected"


@pytest.mark.parametrize(
    ("file", "content", "rule"),
    [
        ("bakes.csv", "\n\n", "is empty"),
        ("bakes.xlsx", "date,product,units\n", NO_WORKBOOK),
        ("bakes.xlsx", b"", NO_WORKBOOK),
        (
            "bakes.parquet",
            "date,product,units\n",
            "cannot be read as Parquet; it may be half-copied",
        ),
    ],
)
def test_a_file_of_another_table_that_cannot_be_read_is_a_finding(
    read: Read, file: str, content: str | bytes, rule: str
) -> None:
    records = read({file: content})
    assert records.problems.select("severity", "file", "row", "rule").rows() == [
        ("not read", file, None, rule)
    ]
    assert records.bakes.is_empty()
    assert records.sales.height == 1


def test_another_encoding_is_no_fault(read: Read) -> None:
    records = read({"bakes.csv": b"date,product,units\n2026-03-02,R\xfcben,1\n"})
    assert records.problems.select("row", "column", "value").rows() == [(2, "product", "Rüben")]


def test_a_cell_too_many_costs_the_row_and_not_the_file(read: Read) -> None:
    text = "date,product,units\n2026-03-02,Rye loaf,1,2\n2026-03-03,Rye loaf,3\n"
    records = read({"bakes.csv": text})
    assert records.bakes["units"].to_list() == [3]
    assert records.problems.select("row", "rule").rows() == [(2, "has more cells than the header")]


def test_markdowns_alone_will_do_beside_the_sales(read: Read) -> None:
    header = HEADERS["markdowns"]
    records = read({"disposals.csv": None, "markdowns.csv": f"{header}\n"})
    assert records.disposals.is_empty()
    assert records.files["table"].to_list() == ["sales", "markdowns"]


def test_a_folder_that_is_not_there_or_is_a_file_or_is_empty(tmp_path: Path) -> None:
    assert "is not there" in refusal(tmp_path / "nowhere")
    (tmp_path / "file").write_text("")
    assert "is a file" in refusal(tmp_path / "file")
    (tmp_path / "empty").mkdir()
    assert "holds no logs" in refusal(tmp_path / "empty")


def test_logs_without_a_store_file_ask_for_one(folder: Folder) -> None:
    path = folder()
    (path / "store.toml").unlink()
    with pytest.raises(ProfileError, match=r"has no store.toml"):
        read_records(path)


def test_the_fingerprint_is_that_of_what_was_read(folder: Folder) -> None:
    first = read_records(folder({"notes.txt": "any"})).fingerprint
    assert read_records(folder({"notes.txt": "other"})).fingerprint == first
    other = read_records(folder({"disposals.csv": "date,product,units\n2026-03-02,Bagels,1\n"}))
    assert other.fingerprint != first
    assert len(first) == 64
