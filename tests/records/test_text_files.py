"""Text files as tills, label printers and spreadsheets write them, each with what it must give."""

import gzip
from collections.abc import Callable
from pathlib import Path

import polars as pl
import pytest

from shrinkwise.records.reading import read_records
from shrinkwise.records.tables import Records

Gives = Callable[..., Records]
Read = Callable[..., Records]

HEADER = "date,product,units,net_sales\n"
TWO = HEADER + "2026-03-02,Rye loaf,5,20.00\n2026-03-03,Bagels,2,6.50\n"
TWO_ROWS = [(2, 1, "2026-03-02", "Rye loaf", 5, 20.0), (3, 1, "2026-03-03", "Bagels", 2, 6.5)]
BAKES = "date,product,units\n"
UNKNOWN = "must be a line of store.toml"


def below(rows: list[tuple[object, ...]], by: int) -> list[tuple[object, ...]]:
    """The same rows some rows further down."""
    return [(int(str(row)) + by, *rest) for row, *rest in rows]


@pytest.mark.parametrize(
    "content",
    [
        TWO.encode(),
        TWO.encode("utf-8-sig"),
        b"\xff\xfe" + TWO.encode("utf-16-le"),
        b"\xfe\xff" + TWO.encode("utf-16-be"),
        TWO.encode("utf-16-le"),
        TWO.encode("utf-16-be"),
        TWO.encode("cp1252"),
        TWO.replace("\n", "\r\n").encode(),
        TWO.replace("\n", "\r").encode(),
        TWO.rstrip("\n").encode(),
        TWO.replace(",", ";").encode(),
        TWO.replace(",", "\t").encode(),
        TWO.replace(",", "|").encode(),
        TWO.replace(",", ", ").encode(),
        "".join(f'"{line}"\n'.replace(",", '","') for line in TWO.splitlines()).encode(),
        TWO.replace("\n", "\0\n").encode(),
    ],
    ids=[
        "UTF-8", "byte order mark", "UTF-16 LE", "UTF-16 BE", "UTF-16 LE, no mark",
        "UTF-16 BE, no mark", "Windows-1252", "CR LF", "CR only", "no last line end",
        "semicolons", "tabs", "bars", "spaces behind commas", "all quoted", "NULs",
    ],
)  # fmt: skip
def test_however_a_file_is_encoded_and_delimited_it_is_the_same_table(
    gives: Gives, content: bytes
) -> None:
    gives({"sales.csv": content}, TWO_ROWS)


UMLAUT = BAKES + "2026-03-02,Rye loaf,12\n2026-03-02,Brötchen – klein,8\n"


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
def test_letters_beyond_ascii_arrive_as_they_were_meant(gives: Gives, encoding: str) -> None:
    gives(
        {"bakes.csv": UMLAUT.encode(encoding)},
        [(2, 1, "2026-03-02", "Rye loaf", 12)],
        [("set aside", "bakes.csv", 3, "product", "Brötchen – klein", UNKNOWN, 1)],
        table="bakes",
    )


def test_a_byte_of_another_encoding_far_down_a_file_does_not_stop_it(gives: Gives) -> None:
    """Beyond the part from which the encoding is told."""
    many = BAKES + "2026-03-02,Rye loaf,1\n" * 20_000
    gives(
        {"bakes.csv": many.encode() + "2026-03-02,Brötchen,1\n".encode("cp1252")},
        [(2, 20_000, "2026-03-02", "Rye loaf", 20_000)],
        [("set aside", "bakes.csv", 20_002, "product", "Brötchen", UNKNOWN, 1)],
        table="bakes",
    )


def test_a_cell_with_a_line_break_and_the_delimiter_is_one_cell(gives: Gives) -> None:
    gives(
        {
            "disposals.csv": "date,product,units,reason\n"
            '2026-03-02,Rye loaf,1,"mould, on the\nunder side"\n2026-03-03,Bagels,2,"stale"\n'
        },
        [
            (2, 1, "2026-03-02", "Rye loaf", 1, "mould, on the\nunder side"),
            (3, 1, "2026-03-03", "Bagels", 2, "stale"),
        ],
        table="disposals",
    )


def test_a_header_with_a_line_break_is_one_row(gives: Gives) -> None:
    gives({"sales.csv": TWO.replace("net_sales", '"net\nsales"')}, TWO_ROWS)


@pytest.mark.parametrize(
    ("row", "value"),
    [
        ('2026-03-03,"Bagels,2,6', '"Bagels'),
        ('2026-03-03,Bagels",2,6', 'Bagels"'),
        ('2026-03-03,9" Bagels,2,6', '9" Bagels'),
        ('2026-03-03,"9"" Bagels",2,6', '9" Bagels'),
    ],
    ids=["never closed", "never opened", "inches", "doubled"],
)
def test_a_stray_quotation_mark_costs_its_own_row_only(gives: Gives, row: str, value: str) -> None:
    more = "".join(f"2026-03-{day:02},Bagels,{day},9\n" for day in range(3, 30))
    gives(
        {"sales.csv": f'{HEADER}2026-03-02,"Rye loaf",5,20\n{row}\n{more}'},
        [
            (2, 1, "2026-03-02", "Rye loaf", 5, 20.0),
            *((day + 1, 1, f"2026-03-{day:02}", "Bagels", day, 9.0) for day in range(3, 30)),
        ],
        [("set aside", "sales.csv", 3, "product", value, UNKNOWN, 1)],
    )


def test_a_stray_quotation_mark_before_an_amount_does_not_swallow_the_rows_below(
    gives: Gives,
) -> None:
    text = HEADER + '2026-03-02,Rye loaf,5,"20.00\n2026-03-03,"Bagels",2,6\n'
    gives(
        {"sales.csv": text},
        [(3, 1, "2026-03-03", "Bagels", 2, 6.0)],
        [("set aside", "sales.csv", 2, "net_sales", '"20.00', "must be an amount", 1)],
    )


@pytest.mark.parametrize(
    ("above", "by"),
    [
        ("Corner store\nSales by day\n", 2),
        ("Corner store,,,\nFrom 2026-03-02 to 2026-03-03,,,\n\n", 3),
        ('"Report, by day"\nprinted 2026-03-04 06:00\n,,,\n', 3),
        ("\n\n", 2),
    ],
    ids=["two titles", "a period", "a title with a comma", "blank rows"],
)
def test_titles_above_the_header_are_passed_over(gives: Gives, above: str, by: int) -> None:
    gives({"sales.csv": above + TWO}, below(TWO_ROWS, by))


@pytest.mark.parametrize(
    ("row", "word"),
    [
        ("Total,,7,26.50", "Total"),
        (",Total,7,26.50", "Total"),
        (",Gesamtsumme:,7,26.50", "Gesamtsumme:"),
        ("2026-03-03,Sous-total,7,26.50", "Sous-total"),
        ("Total general,,7,26.50", "Total general"),
    ],
)
def test_a_row_of_totals_below_the_table_is_a_note(gives: Gives, row: str, word: str) -> None:
    gives(
        {"sales.csv": f"{TWO}\n{row}\n"},
        TWO_ROWS,
        [("note", "sales.csv", 5, "", word, "is a row of totals", 1)],
    )


def test_blank_rows_and_columns_are_nothing(gives: Gives) -> None:
    text = (
        ",date,,product,units,net_sales,\n,,,,,,\n,2026-03-02,,Rye loaf,5,20.00,\n , , , , ,\t,\n\n"
        ",2026-03-03,,Bagels,2,6.50,\n,,,,,,\n,,,,,,\n"
    )
    records = gives(
        {"sales.csv": text},
        [(3, 1, "2026-03-02", "Rye loaf", 5, 20.0), (6, 1, "2026-03-03", "Bagels", 2, 6.5)],
    )
    assert records.files.row(0)[2:] == (2, 2, 0, 0)


def test_cells_beyond_the_header_cost_the_row_unless_they_are_empty(gives: Gives) -> None:
    """An unquoted decimal comma shifts the cells behind it."""
    text = HEADER + (
        "2026-03-02,Rye loaf,5,20.00,,\n2026-03-03,Bagels,2,6,50\n2026-03-04,Bagels,2,6.50,\n"
    )
    gives(
        {"sales.csv": text},
        [(2, 1, "2026-03-02", "Rye loaf", 5, 20.0), (4, 1, "2026-03-04", "Bagels", 2, 6.5)],
        [
            ("set aside", "sales.csv", 3, "", None, "has more cells than the header", 1),
            (
                "doubt", "sales", None, "date", "2026-03-03",
                "has no sale of any line, and no event says that the store was closed", 0,
            ),
        ],
    )  # fmt: skip


@pytest.mark.parametrize(
    ("cut", "faults"),
    [
        ("2026-03-03,Bag", [("product", "Bag", UNKNOWN), ("units", None, "must not be empty")]),
        ("2026-0", [("date", "2026-0", "must be a date"), ("product", None, "must not be empty")]),
    ],
)
def test_a_last_row_that_is_cut_off_is_set_aside(
    read: Read, cut: str, faults: list[tuple[str, str | None, str]]
) -> None:
    records = read({"bakes.csv": f"{BAKES}2026-03-02,Rye loaf,12\n{cut}"})
    assert records.bakes["units"].to_list() == [12]
    assert set(records.problems["row"]) == {3}
    found = records.problems.select("column", "value", "rule").rows()
    # what else an unknown line's row lacks is of no interest
    assert found[0] == faults[0]
    assert set(found) <= {*faults, ("units", None, "must not be empty")}


@pytest.mark.parametrize("name", ["=1+1", "@SUM(A1)", "+1", "-1", "=cmd|'/c calc'!A1"])
def test_a_product_that_looks_like_a_formula_is_a_text(gives: Gives, name: str) -> None:
    gives(
        {"sales.csv": f"{TWO}2026-03-03,{name},1,4\n2026-03-03,Rye loaf,=2+3,20\n"},
        TWO_ROWS,
        [
            ("set aside", "sales.csv", 4, "product", name, UNKNOWN, 1),
            ("set aside", "sales.csv", 5, "units", "=2+3", "must be a whole number", 1),
        ],
    )


@pytest.mark.parametrize(
    ("file", "content"),
    [
        ("sales.csv.gz", gzip.compress(TWO.encode(), mtime=0)),
        ("sales.CSV.GZ", gzip.compress(TWO.encode("utf-16"), mtime=0)),
        ("sales.tsv", TWO.replace(",", "\t").encode()),
        ("sales.txt", TWO.replace(",", "|").encode()),
        ("sales.txt.gz", gzip.compress(TWO.replace(",", ";").encode("cp1252"), mtime=0)),
    ],
)
def test_other_endings_of_text_files(gives: Gives, file: str, content: bytes) -> None:
    gives({"sales.csv": None, file: content}, TWO_ROWS)


SMALL = "\nlargest_file_mb = 1\n"
MANY = (BAKES + "2026-03-02,Rye loaf,1\n" * 60_000).encode()
TOO_LARGE = "is larger than 1 MB once unpacked"
HALF = "cannot be unpacked; it may be half-copied"


@pytest.mark.parametrize(
    ("file", "content", "rule"),
    [
        ("bakes.csv", MANY, TOO_LARGE),
        ("bakes.csv.gz", gzip.compress(MANY), TOO_LARGE),
        ("bakes.csv.gz", gzip.compress(TWO.encode())[:-9], HALF),
        ("bakes.csv.gz", b"date,product,units\n2026-03-02,Rye loaf,1\n", HALF),
        ("bakes.csv.gz", b"", "is empty"),
        ("bakes.csv", b"", "is empty"),
        ("bakes.csv", b" \r\n\t\r\n", "is empty"),
        ("bakes.csv", b"\xef\xbb\xbf", "is empty"),
        ("bakes.csv", bytes(range(256)) * 4, "is no text"),
        ("bakes.csv", gzip.compress(MANY), "is no text"),
        (
            "bakes.csv",
            b"<html><body>Please log in</body></html>",
            "has no column 'date'; its headers are: <html><body>Please log in</body></html>",
        ),
    ],
    ids=[
        "too large", "bomb", "cut-off gzip", "no gzip", "empty gzip", "empty", "blank",
        "mark only", "any bytes", "a gzip called csv", "a web page",
    ],
)  # fmt: skip
def test_a_text_file_that_cannot_be_used_is_a_finding_and_the_run_goes_on(
    gives: Gives, file: str, content: bytes, rule: str
) -> None:
    records = gives(
        {file: content},
        [(2, 1, "2026-03-02", "Rye loaf", 5, 20.0)],
        [("not read", file, None, "", None, rule, 0)],
        block=SMALL,
    )
    assert records.bakes.is_empty()
    assert "bakes" not in set(records.files["table"])


def test_a_file_up_to_the_largest_size_is_read(read: Read) -> None:
    text = (BAKES + "2026-03-02,Rye loaf,1\n" * 40_000).encode()
    assert 800_000 < len(text) < 1_000_000
    records = read({"bakes_1.csv": text, "bakes_2.csv.gz": gzip.compress(text)}, SMALL)
    # the second holds the same days again
    assert records.bakes.select("file", "rows").rows() == [("bakes_2.csv.gz", 40_000)]


def test_a_file_with_a_header_and_no_rows_is_an_empty_table(gives: Gives) -> None:
    records = gives({"bakes.csv": BAKES, "markdowns.csv": "date,product,units,unit_price"}, [],
                    table="bakes")  # fmt: skip
    assert records.files.filter(pl.col("table") == "bakes").row(0)[2:] == (0, 0, 0, 0)


def test_a_file_that_cannot_be_opened_is_a_finding(
    folder: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Simulated, since the tests may run as one who may open everything."""
    opened = Path.open

    def denied(path: Path, *args: object, **kwargs: object) -> object:
        if path.name.startswith("bakes"):
            raise PermissionError(13, "Permission denied")
        return opened(path, *args, **kwargs)  # type: ignore[call-overload]

    path = folder({"bakes.csv": BAKES})
    monkeypatch.setattr(Path, "open", denied)
    records = read_records(path)
    assert records.problems.select("severity", "file", "rule").rows() == [
        ("not read", "bakes.csv", "cannot be opened (Permission denied)")
    ]
    assert len(records.fingerprint) == 64
