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
DATE, WHOLE, AMOUNT = "must be a date", "must be a whole number", "must be an amount"
LOW, HIGH = "is below the lowest possible value", "is beyond the highest possible value"
EMPTY, UNKNOWN = "must not be empty", "must be a line of store.toml"
KIND = "must be one of holiday, promotion, local event, closed"

# table, row, and its findings: column, value as it stands in the file, rule
FAULTS: list[tuple[str, str, list[tuple[str, str | None, str]]]] = [
    ("sales", "02/03/2026,Rye loaf,5,20,,", [("date", "02/03/2026", DATE)]),
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
    ("sales", "2026-03-02,Rye loaf,5,$20,,", [("net_sales", "$20", AMOUNT)]),
    ("sales", '2026-03-02,Rye loaf,5,"20,00",,', [("net_sales", "20,00", AMOUNT)]),
    ("sales", "2026-03-02,Rye loaf,5,inf,,", [("net_sales", "inf", AMOUNT)]),
    ("sales", "2026-03-02,Rye loaf,5,,,", [("net_sales", None, EMPTY)]),
    (
        "sales",
        "2026-03-02,Rye loaf,-1,4,,",
        [("net_sales", "4", "units and net_sales must have the same sign")],
    ),
    ("sales", "2026-03-02,Rye loaf,5,20,24,", [("hour", "24", HIGH)]),
    ("sales", "2026-03-02,Rye loaf,5,20,-1,", [("hour", "-1", LOW)]),
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
    ("bakes", "2026-03-02,Total,240", [("product", "Total", UNKNOWN)]),
    ("counts", "2026-03-02,Rye loaf,-7,", [("units", "-7", LOW)]),
    ("events", "2026-03-02,,street fair,", [("kind", "street fair", KIND)]),
    ("events", "2026-03-02,,,", [("kind", None, EMPTY)]),
    ("events", "2026-03-02,Rye bread,promotion,3", [("product", "Rye bread", UNKNOWN)]),
    ("events", "2026-03-02,Rye loaf,promotion,-3", [("unit_price", "-3", LOW)]),
]


def balances(records: Records) -> bool:
    """rows read = rows used + rows set aside, file by file and against the tables themselves."""
    for file, table, read, used, aside in records.files.iter_rows():
        rows = getattr(records, table).filter(pl.col("file") == file)
        found = records.problems.filter(pl.col("file") == file)
        if read != used + aside or used != rows.height or aside != found["row"].n_unique():
            return False
        if set(rows["row"]) & set(found["row"]):
            return False
    return True


@pytest.mark.parametrize(
    ("table", "row", "expected"), FAULTS, ids=[f"{table}: {row}" for table, row, _ in FAULTS]
)
def test_a_faulty_row_is_set_aside_with_file_row_column_and_value(
    folder: Folder, table: str, row: str, expected: list[tuple[str, str | None, str]]
) -> None:
    text = "\n".join([HEADERS[table], GOOD[table], row, GOOD[table]]) + "\n"
    records = read_records(folder({f"{table}.csv": text}))
    found = records.problems
    # the header is row 1 as in a spreadsheet, so the faulty row is row 3
    places = [(f"{table}.csv", 3, column, value, rule) for column, value, rule in expected]
    assert found.select("file", "row", "column", "value", "rule").rows() == places
    assert set(found["severity"]) == {"set aside"}
    assert all(found["what_to_do"].str.len_chars() > 10)
    assert getattr(records, table)["row"].to_list() == [2, 4]
    files = {name: rest for name, *rest in records.files.iter_rows()}
    assert files[f"{table}.csv"] == [table, 3, 2, 1]
    assert balances(records)


def test_good_rows_of_every_table_arrive_typed(folder: Folder) -> None:
    records = read_records(
        folder({f"{table}.csv": f"{HEADERS[table]}\n{GOOD[table]}\n" for table in HEADERS})
    )
    assert records.problems.is_empty()
    assert records.sales.row(0, named=True) == {
        "file": "sales.csv",
        "row": 2,
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
    assert balances(records)


def test_optional_columns_may_be_away_or_empty(folder: Folder) -> None:
    records = read_records(
        folder({"events.csv": "date,kind\n2026-03-02,closed\n", "counts.csv": HEADERS["counts"]})
    )
    assert records.problems.is_empty()
    assert records.sales["hour"].to_list() == [None]
    assert records.sales["reduced"].to_list() == [None]
    assert records.events.select("product", "unit_price").rows() == [(None, None)]
    assert records.counts.is_empty()


def test_a_return_is_a_sale_of_negative_units(folder: Folder) -> None:
    records = read_records(
        folder({"sales.csv": "date,product,units,net_sales\n2026-03-02,Rye loaf,-2,-8.00\n"})
    )
    assert records.sales.select("units", "net_sales").rows() == [(-2, -8.0)]


def test_words_for_yes_and_no_spaces_and_capitals(folder: Folder) -> None:
    rows = ["Yes", "n", "TRUE", "0", "1", ""]
    lines = [f" 2026-03-02 , Rye loaf ,5.0, 20,,{word}" for word in rows]
    text = " Date ,PRODUCT,Units,net_sales,hour,reduced\n" + "\n".join(lines) + "\n"
    records = read_records(
        folder({"sales.csv": text, "events.csv": "date,kind\n2026-03-02,Closed"})
    )
    assert records.problems.is_empty()
    assert records.sales["reduced"].to_list() == [True, False, True, False, True, None]
    assert set(records.sales["product"]) == {"Rye loaf"}
    assert records.events["kind"].to_list() == ["closed"]


def test_a_blank_line_is_counted_so_that_the_rows_after_it_keep_their_numbers(
    folder: Folder,
) -> None:
    text = "date,product,units\n2026-03-02,Rye loaf,1\n\n2026-03-02,Rye loaf,x\n"
    records = read_records(folder({"bakes.csv": text}))
    assert set(records.problems["row"]) == {3, 4}
    assert records.problems.filter(pl.col("value") == "x")["row"].to_list() == [4]
    assert balances(records)


def test_several_files_of_a_table_are_one_table(folder: Folder) -> None:
    """In the order of days; each row still says from which file it came."""
    header = "date,product,units,net_sales\n"
    records = read_records(
        folder(
            {
                "sales.csv": None,
                "sales_b.csv": header + "2026-03-02,Rye loaf,5,20\n2026-03-04,Bagels,2,6\n",
                "sales_a.csv": header + "2026-03-03,Rye loaf,4,16\n2026-03-03,Rye bread,4,16\n",
                "Sales 2025.CSV": header + "2025-12-31,Bagels,1,3\n",
                # not a log: neither by name nor by ending
                "notes.csv": "a,b\n",
                "sales.txt": "",
            }
        )
    )
    assert records.sales.select("date", "file", "row").rows() == [
        (date(2025, 12, 31), "Sales 2025.CSV", 2),
        (date(2026, 3, 2), "sales_b.csv", 2),
        (date(2026, 3, 3), "sales_a.csv", 2),
        (date(2026, 3, 4), "sales_b.csv", 3),
    ]
    assert records.files["file"].to_list() == [
        "Sales 2025.CSV", "sales_a.csv", "sales_b.csv", "disposals.csv",
    ]  # fmt: skip
    assert records.files["rows_set_aside"].to_list() == [0, 1, 0, 0]
    assert balances(records)


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


def test_moments_within_a_day_count_for_the_day(folder: Folder) -> None:
    path = folder({"sales.csv": None})
    moments = [datetime(2026, 3, 2, 0, 0), datetime(2026, 3, 2, 23, 59, 59, 999_000)]
    table = TABLE.head(2).with_columns(date=pl.Series(moments))
    write_table(path / "sales.parquet", table)
    assert read_records(path).sales["date"].to_list() == [date(2026, 3, 2)] * 2


OWN_HEADERS = """
[columns.sales]
date = "Business date"
product = "Item"
units = "Qty sold"
net_sales = "Net $"
"""


def test_the_till_s_own_headers(folder: Folder) -> None:
    text = "Store,Business Date,Item, qty sold,Net $\n7,2026-03-02,Rye loaf,5,20\n"
    records = read_records(folder({"sales.csv": text}, OWN_HEADERS))
    assert records.problems.is_empty()
    assert records.sales.select("date", "product", "units", "net_sales").rows() == [
        (date(2026, 3, 2), "Rye loaf", 5, 20.0)
    ]


def test_columns_called_row_and_file_are_the_till_s_own_business(folder: Folder) -> None:
    text = "row,file,date,product,units,net_sales\n901,x,2026-03-02,Rye loaf,5,20\n"
    records = read_records(folder({"sales.csv": text}))
    assert records.sales.select("file", "row").rows() == [("sales.csv", 2)]


def refusal(path: Path) -> str:
    with pytest.raises(RecordsError) as caught:
        read_records(path)
    return str(caught.value)


@pytest.mark.parametrize(
    ("files", "block", "words"),
    [
        (
            {"sales.csv": "date,product,qty,net_sales\n2026-03-02,Rye loaf,5,20\n"},
            "",
            ["sales.csv has no column 'units'", "date, product, qty, net_sales", "[columns.sales]"],
        ),
        (
            {"bakes.csv": "date;product;units\n"},
            "",
            ["bakes.csv has no column 'date'", "date;product;units"],
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
            ["sales.csv has more than one column 'date'"],
        ),
        (
            {"sales.csv": "date,Date,product,units,net_sales\n"},
            "",
            ["sales.csv has the columns 'date' and 'Date'", "capitals"],
        ),
    ],
    ids=["missing", "other delimiter", "own header missing", "no such column", "twice", "capitals"],
)
def test_columns_that_cannot_be_matched(
    folder: Folder, files: dict[str, str], block: str, words: list[str]
) -> None:
    message = refusal(folder(files, block))
    for word in words:
        assert word in message


@pytest.mark.parametrize(
    ("files", "message"),
    [
        ({"sales.csv": None}, "has no sales log."),
        ({"disposals.csv": None}, "has neither a markdown nor a disposal log"),
        ({"sales.csv": None, "disposals.csv": None}, "holds no logs."),
        ({"sales.csv": ""}, "sales.csv is empty."),
        ({"bakes.csv": "\n\n"}, "bakes.csv is empty."),
        (
            {"sales.csv": "date,product,units,net_sales\n"},
            "No row of the sales log can be used. It holds a header and no rows.",
        ),
        (
            {"sales.csv": "date,product,units,net_sales\n3.3.26,Rye loaf,5,20\n"},
            "The first: sales.csv, row 2, date '3.3.26': must be a date.",
        ),
        ({"bakes.xlsx": "date,product,units\n"}, "bakes.xlsx cannot be read as XLSX"),
        ({"bakes.parquet": "date,product,units\n"}, "bakes.parquet cannot be read as PARQUET"),
        ({"bakes.xlsx": b""}, "bakes.xlsx cannot be read as XLSX"),
        ({"bakes.csv": b"date,product,units\n2026-03-02,R\xfcben,1\n"}, "bakes.csv cannot be read"),
        (
            {"bakes.csv": "date,product,units\n2026-03-02,Rye loaf,1,2\n"},
            "bakes.csv cannot be read as CSV",
        ),
    ],
)
def test_what_cannot_be_read_at_all_is_refused_with_what_to_do(
    folder: Folder, files: dict[str, str | bytes | None], message: str
) -> None:
    assert message in refusal(folder(files))


def test_markdowns_alone_will_do_beside_the_sales(folder: Folder) -> None:
    header = HEADERS["markdowns"]
    records = read_records(folder({"disposals.csv": None, "markdowns.csv": f"{header}\n"}))
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
