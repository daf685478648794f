"""Sound log files of every kind, ways to damage them, and what must hold however they came out."""

import gzip
import io
import time
import zipfile
from collections.abc import Callable
from pathlib import Path

import polars as pl
import xlsxwriter

from shrinkwise.errors import ShrinkwiseError
from shrinkwise.records.reading import read_records
from shrinkwise.records.tables import SCHEMAS, Records

LONGEST_S = 5.0
"""Seconds after which reading a small folder counts as hung."""

STORE = """
name = "Corner store"
currency = "EUR"
country = "DE"
state = "BY"
open_days = ["monday", "tuesday", "wednesday", "thursday", "friday", "saturday"]

[columns.counts]
units = "Rest"

[date_order]
events = "day-month-year"

[decimal_mark]
markdowns = ","

[labour]
wage_per_hour = 21.5

[[lines]]
name = "Rye loaf"
category = "breads"
also_called = ["4006381333931", "0042"]
introduced = 2024-05-01
price = 4.0
dough_cost = 1.2
shelf_life_days = 3
reduce_on_day = 3
reduced_price = 2.0

[[lines]]
name = "Brötchen, 6"
category = "rolls"
price = 3.0
dough_cost = 0.9
shelf_life_days = 2
filled = false
"""
SALES = """Till 3;;;;;
;;;;;
Datum;Artikel;Menge;Umsatz (EUR);Uhrzeit;Storno
02.03.2026;Rye loaf;5;20,00;09:35;nein
02.03.2026;Brötchen, 6;1.200;3.600,00;14:05;nein
13.03.2026;42;-1;-4,00 €;9;nein
14.03.2026;"Rye ""old"" loaf";2;8,00;10;ja
14.03.2026;4006381333931;2;8,00;10;

Summe;;1.208;3.632,00;;
"""
PLAIN = "date,product,units,net_sales\n2026-02-02,Rye loaf,5,20.00\n2026-02-03,Rye loaf,2,8.00\n"
TICKETS = (
    "Business Date\tItem\tQty\tNet Sales\tReduced\n"
    + "03/02/2026 09:14\tRye loaf\t1\t4.00\tno\n" * 3
    + "03/14/2026 10:20 PM\trye  loaf\t1\t2.00\tyes\n03/14/2026 11:00 PM\tGum\t1\t0.90\tno\n"
)
DISPOSALS = (
    "date,product,units,reason,bake_date\n"
    '2026-03-04,Rye loaf,1,"dropped, on the floor",2026-03-02\n'
    '2026-03-05,Rye loaf,2,"said ""hard""\n(twice)",\n'
    "2026-03-05,Rye loaf,1.5,,2026-03-09\n"
)
MARKDOWNS = "date;product;units;unit_price\n2026-03-04;Rye loaf;2;2,00\n2026-03-05;Rye loaf;x;50%\n"
BAKES = (
    'Item,2026-03-02,2026-03-03,2026-03-04,Total\nRye loaf,12,,9,21\n"Brötchen, 6",,8,x,8\n'
    "Total,12,8,9,29\n"
)
COUNTS = (
    "Fecha|Producto|Rest\n46083|Rye loaf|7\n20260303|Rye loaf|2\n2 de marzo de 2026|Rye loaf|\n"
)
EVENTS = "date,product,kind,unit_price\n01/03/2026,,closed,\n02/03/2026,Rye loaf,promotion,3.50\n"

TOKENS = (
    *(b'"', b'""', b",", b";", b"\t", b"|", b"\n", b"\r\n", b"\r", b"\0", b"'", b"\xff\xfe"),
    *(
        b"\xe4",
        b"\xef\xbb\xbf",
        b"\xa0",
        b"\xe2\x80\xaf",
        b"\xf0\x9f\x8d\x9e",
        b"(",
        b")",
        b"-",
        b"%",
    ),
    *(b"nan", b"inf", b"1e999", b"1e5", b"-0", b"0,5", b"1,234", b"1.234", b"1.234,5", b"9" * 400),
    *(b"2026-02-30", b"0000-00-00", b"99999", b"1/2/3", b"25:61", b"Total", b"date", b"units"),
    *(b"<c>", b"</row>", b'r="XFD1048576"', b'r="0"', b"&#0;", b"[[lines]]", b"[" * 60, b"{"),
)

Change = Callable[[bytes], bytes]


def sound_files() -> dict[str, bytes]:
    """Files of every table and kind, by name; each one reads well, faulty rows set aside."""
    table = pl.read_csv(io.StringIO(PLAIN), try_parse_dates=True)
    parquet = io.BytesIO()
    table.write_parquet(parquet)
    return {
        "sales_b.csv": SALES.encode("cp1252"),
        "sales_b.txt": TICKETS.encode("utf-16"),
        "sales_b.csv.gz": gzip.compress(SALES.encode("utf-8-sig"), 1, mtime=0),
        "sales_b.xlsx": _workbook(SALES, ";"),
        "sales_b.parquet": parquet.getvalue(),
        "disposals_b.csv": DISPOSALS.encode(),
        "disposals_b.xlsx": _workbook(DISPOSALS, ","),
        "markdowns_b.csv": MARKDOWNS.encode().replace(b"\n", b"\r\n"),
        "bakes_b.csv": BAKES.encode(),
        "sales_w.tsv": BAKES.replace(",", "\t").encode("utf-16"),
        "bakes_b.xlsx": _workbook(BAKES, ","),
        "counts_b.tsv": COUNTS.encode(),
        "events_b.csv": EVENTS.encode().replace(b"\n", b"\r"),
        "store.toml": STORE.encode(),
    }


def _workbook(text: str, delimiter: str) -> bytes:
    """A workbook with numbers where a cell looks like one, a date cell, and a hidden sheet."""
    out = io.BytesIO()
    with xlsxwriter.Workbook(out, {"in_memory": True}) as book:
        sheet, more = book.add_worksheet("Log"), book.add_worksheet("More")
        day = book.add_format({"num_format": "yyyy-mm-dd"})
        for row, line in enumerate(text.splitlines()):
            for column, cell in enumerate(line.split(delimiter)):
                if cell.isdecimal():
                    sheet.write_number(row, column, int(cell))
                elif cell == "2026-03-04":
                    sheet.write_number(row, column, 46085, day)
                else:
                    sheet.write_string(row, column, cell)
        more.write_string(0, 0, "date")
        more.hide()
    return out.getvalue()


def inside(data: bytes, change: Change) -> bytes:
    """A packed file with its text changed, packed again; any other file changed as it is."""
    if data.startswith(b"\x1f\x8b"):
        return gzip.compress(change(gzip.decompress(data)), 1, mtime=0)
    if not data.startswith(b"PK"):
        return change(data)
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w") as new:
        for name in old.namelist():
            content = old.read(name)
            new.writestr(name, change(content) if name.endswith("sheet1.xml") else content)
    return out.getvalue()


def check_reading(folder: Path, name: str, data: bytes) -> float:
    """Read a folder in which one file holds `data`; the seconds that it took.

    Raises
    ------
    AssertionError
        When the rows of a file do not add up, a row breaks its schema, or reading took too long.
    Exception
        Whatever else than a ShrinkwiseError the reader lets out.
    """
    for path in folder.iterdir():
        path.unlink()
    files = {"store.toml": STORE.encode(), "sales.csv": PLAIN.encode()}
    files["disposals.csv"] = b"date,product,units\n"
    for file, content in (files | {name: data}).items():
        (folder / file).write_bytes(content)
    # a busy machine is not slow twice in a row, a slow input is
    for _ in range(2):
        start = time.monotonic()
        said = _read(folder)
        seconds = time.monotonic() - start
        if seconds < LONGEST_S:
            break
    assert seconds < LONGEST_S, f"{name} took {seconds:.1f} s"
    if isinstance(said, str):
        assert said.endswith("."), said
    else:
        check_sums(said)
    return seconds


def _read(folder: Path) -> Records | str:
    """The records, or what the reader says is wrong with them."""
    try:
        return read_records(folder)
    except ShrinkwiseError as error:
        return str(error)


def check_sums(records: Records) -> None:
    """Every row keeps its schema, and those of each file add up."""
    for table, schema in SCHEMAS.items():
        schema.validate(getattr(records, table))
    for file, table, read, used, aside, replaced in records.files.iter_rows():
        rows = getattr(records, table).filter(pl.col("file") == file)
        assert read == used + aside + replaced, file
        assert used == rows["rows"].sum(), file
        assert min(read, used, aside, replaced) >= 0, file
