"""The untidy sample: thirty known defects in four dialects, and the clean sample behind them.

The files are read here with the standard library alone, so that what is said of them does not
rest on the reader that they are meant to prove.
"""

import csv
import gzip
import io
import os
import zipfile
from collections import Counter
from datetime import date, datetime, timedelta
from pathlib import Path

import fastexcel
import polars as pl
import pytest
from typer.testing import CliRunner

from shrinkwise.cli import app
from shrinkwise.errors import ShrinkwiseError
from shrinkwise.profile.reading import read_store
from shrinkwise.sample.defects import Defect
from shrinkwise.sample.logs import sample_tables, write_sample
from shrinkwise.sample.messy import BROKEN_LINK, FOLDER, LINK_OUT, write_messy_sample
from shrinkwise.sample.messy_sales import MINOR_LINE
from shrinkwise.sample.other_names import OTHER_NAMES, with_check_digit
from shrinkwise.sample.truth import TRUTH

DIALECTS = {
    "sales_2024.csv": ("cp1252", ";"),
    "sales_2025.tsv": ("utf-16", "\t"),
    "sales_2025-03.csv": ("ascii", ","),
    "sales_2026_h2.csv.gz": ("utf-8-sig", "|"),
    "markdowns.csv": ("ascii", ","),
    "markdowns_2026-10.csv": ("ascii", ","),
    "disposals.csv": ("utf-8", ";"),
    "disposals_2024-11.csv": ("utf-8", ";"),
    "bakes.csv": ("ascii", ","),
    "counts.txt": ("ascii", "\t"),
    "events.csv": ("ascii", ","),
}
PLANTED_CELL = {
    "void_sale": "ja",
    "row_of_totals": "Summe",
    "lost_leading_zeros": "413",
    "unknown_product": "0999",
    "money_against_units": "($15.96)",
    "hour_25": "25",
    "sold_before_introduced": "10/05/2025",
    "several_days_on_one": OTHER_NAMES[MINOR_LINE].code,
    "more_returned_than_sold": "-40",
    "no_such_day": "30/02/2025",
    "negative_disposal": "-3",
    "formula_for_a_number": "=1+1",
    "name_in_capitals": "ITALIAN  LOAF",
    "more_disposed_than_baked": MINOR_LINE,
    "baked_after_it_was_reduced": "01/28/2025",
    "percent_for_money": "50%",
    "cell_too_many": "75 $",
    "number_in_words": "five",
}
FRENCH_MONTHS = {"juillet": 7, "août": 8, "septembre": 9, "octobre": 10}
LINE_OF = {other: line for line, names in OTHER_NAMES.items() for other in names.all}

Ledger = Counter[tuple[object, ...]]
"""Units, or money in cents, by whatever the table tells apart."""


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, tuple[Defect, ...]]:
    folder = tmp_path_factory.mktemp("messy")
    return folder, write_messy_sample(folder, seed=1)


@pytest.fixture(scope="module")
def folder(written: tuple[Path, tuple[Defect, ...]]) -> Path:
    return written[0]


@pytest.fixture(scope="module")
def defects(written: tuple[Path, tuple[Defect, ...]]) -> tuple[Defect, ...]:
    return written[1]


@pytest.fixture(scope="module")
def clean() -> dict[str, pl.DataFrame]:
    return sample_tables(1)


def rows_of(folder: Path, name: str) -> list[list[str]]:
    encoding, delimiter = DIALECTS[name]
    data = (folder / name).read_bytes()
    text = (gzip.decompress(data) if name.endswith(".gz") else data).decode(encoding)
    return list(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter))


def good_rows(
    folder: Path, defects: tuple[Defect, ...], name: str, head: int = 1
) -> list[list[str]]:
    """The rows below the header without those that must not be used."""
    out = {d.row for d in defects if d.file == name and d.severity in ("set aside", "note")}
    return [
        row
        for number, row in enumerate(rows_of(folder, name), start=1)
        if number > head and number not in out
    ]


def without_minor_line(ledger: Ledger) -> Ledger:
    return Counter({key: n for key, n in ledger.items() if n and MINOR_LINE not in key})


def european(text: str) -> date:
    day, month, year = text.replace(".", "/").split("/")
    return date(int(year), int(month), int(day))


def american(text: str) -> date:
    month, day, year = text.split("/")
    return date(int(year), int(month), int(day))


def content(folder: Path) -> dict[str, bytes | str]:
    found: dict[str, bytes | str] = {}
    for path in sorted(folder.rglob("*")):
        name = path.relative_to(folder).as_posix()
        if path.is_symlink():
            found[name] = os.readlink(path)
        elif path.is_file():
            found[name] = path.read_bytes()
        else:
            found[name] = "a folder"
    return found


def clean_sales(clean: dict[str, pl.DataFrame], first: date, last: date) -> tuple[Ledger, Ledger]:
    units: Ledger = Counter()
    cents: Ledger = Counter()
    part = clean["sales"].filter(pl.col("date").is_between(first, last))
    for day, product, sold, net, reduced in part.iter_rows():
        units[day, product, reduced] += sold
        cents[day, product, reduced] += round(100 * net)
    return units, cents


def test_thirty_defects_each_of_its_own_kind(defects: tuple[Defect, ...]) -> None:
    assert len(defects) == len({defect.name for defect in defects}) == 30
    assert sum(defect.recoverable for defect in defects) == 25
    severities = Counter(defect.severity for defect in defects)
    assert set(severities) == {"not read", "set aside", "guess", "doubt", "replaced", "note"}
    # what is lost for good is what only the store can say
    assert all(defect.recoverable != (defect.severity == "doubt") for defect in defects)


def test_every_planted_row_holds_its_fault(folder: Path, defects: tuple[Defect, ...]) -> None:
    by_row = {d.name: d for d in defects if d.row is not None}
    assert set(by_row) == set(PLANTED_CELL) | {"wrong_check_digit", "cut_off_last_row"}
    for name, cell in PLANTED_CELL.items():
        defect = by_row[name]
        assert defect.row is not None
        assert cell in rows_of(folder, defect.file)[defect.row - 1], name


def test_the_wrong_check_digit_is_of_a_known_number(
    folder: Path, defects: tuple[Defect, ...]
) -> None:
    defect = next(d for d in defects if d.name == "wrong_check_digit")
    assert defect.row is not None
    gtin = rows_of(folder, defect.file)[defect.row - 1][1]
    right = with_check_digit(gtin[:-1])
    assert right != gtin
    assert LINE_OF[right] == "Kaiser rolls"


def test_check_digits_are_those_of_the_published_example() -> None:
    # GS1, "How to calculate a check digit manually": GTIN-13 6291041500213 (from memory)
    assert with_check_digit("629104150021") == "6291041500213"


def test_every_text_file_decodes_in_its_own_dialect(folder: Path) -> None:
    for name in DIALECTS:
        widths = Counter(len(row) for row in rows_of(folder, name) if row)
        assert widths.most_common(1)[0][0] >= 3, name
    assert "Kassenbericht Bäckerei" in rows_of(folder, "sales_2024.csv")[0]
    assert (folder / "sales_2025.tsv").read_bytes()[:2] in (b"\xff\xfe", b"\xfe\xff")
    packed = gzip.decompress((folder / "sales_2026_h2.csv.gz").read_bytes())
    assert packed.startswith(b"\xef\xbb\xbf")
    assert not packed.endswith(b"\n")
    assert any("\n" in cell for row in rows_of(folder, "disposals.csv") for cell in row)


def test_same_seed_same_bytes_also_over_an_older_one(folder: Path, tmp_path: Path) -> None:
    first = write_messy_sample(tmp_path / "again")
    before = content(tmp_path / "again")
    assert before == content(folder)
    assert write_messy_sample(tmp_path / "again") == first
    assert content(tmp_path / "again") == before


def test_another_seed_is_another_store_with_the_same_kinds_of_trouble(
    defects: tuple[Defect, ...], folder: Path, tmp_path: Path
) -> None:
    other = write_messy_sample(tmp_path, seed=2)
    assert [d.name for d in other] == [d.name for d in defects]
    assert (tmp_path / "bakes.csv").read_bytes() != (folder / "bakes.csv").read_bytes()


def test_german_sales_are_the_clean_ones(
    folder: Path, defects: tuple[Defect, ...], clean: dict[str, pl.DataFrame]
) -> None:
    units: Ledger = Counter()
    cents: Ledger = Counter()
    returns = 0
    for row in good_rows(folder, defects, "sales_2024.csv", head=4):
        day, name, sold, net, reduced, void = row
        assert void == "nein"
        key = european(day), LINE_OF[name], {"ja": "yes", "nein": "no"}[reduced]
        sign = -1 if net.endswith("-") else 1
        returns += sign < 0
        units[key] += sign * int(sold.rstrip("-"))
        cents[key] += sign * int("".join(c for c in net if c.isdigit()))
    assert (units, cents) == clean_sales(clean, date(2024, 1, 1), date(2024, 12, 31))
    assert returns == 1


def test_german_totals_are_those_of_the_good_rows(
    folder: Path, clean: dict[str, pl.DataFrame]
) -> None:
    part = clean["sales"].filter(pl.col("date").dt.year() == 2024)
    total = rows_of(folder, "sales_2024.csv")[-1]
    assert total[2] == str(part["units"].sum())
    assert total[3].replace(".", "").replace(",", ".") == f"{part['net_sales'].sum():.2f}"
    assert "." in total[3]


def test_american_sales_are_the_clean_ones_but_for_the_minor_line(
    folder: Path, defects: tuple[Defect, ...], clean: dict[str, pl.DataFrame]
) -> None:
    units: Ledger = Counter()
    cents: Ledger = Counter()
    for day, hour, code, sold, net, reduced in good_rows(folder, defects, "sales_2025.tsv"):
        assert hour == ""
        key = american(day), LINE_OF[code.zfill(4)], {"Y": "yes", "N": "no"}[reduced]
        units[key] += int(sold)
        cents[key] += int("".join(c for c in net if c.isdigit()))
    want = clean_sales(clean, date(2025, 1, 1), date(2025, 12, 31))
    assert without_minor_line(units) == without_minor_line(want[0])
    assert without_minor_line(cents) == without_minor_line(want[1])


def test_days_booked_on_one_keep_their_sum(
    folder: Path, defects: tuple[Defect, ...], clean: dict[str, pl.DataFrame]
) -> None:
    defect = next(d for d in defects if d.name == "several_days_on_one")
    assert defect.row is not None
    booked = rows_of(folder, defect.file)[defect.row - 1]
    sunday = american(booked[0])
    days = clean["sales"].filter(
        pl.col("product") == MINOR_LINE,
        pl.col("date").is_between(sunday - timedelta(days=2), sunday),
    )
    at_full_price = days.filter((pl.col("date") < sunday) | (pl.col("reduced") == "no"))
    assert int(booked[3]) == at_full_price["units"].sum()
    of_line = [row for row in rows_of(folder, defect.file) if OTHER_NAMES[MINOR_LINE].code in row]
    there = {american(row[0]) for row in of_line}
    assert sunday in there
    assert not {sunday - timedelta(days=1), sunday - timedelta(days=2)} & there


def test_excel_sales_are_the_clean_ones(folder: Path, clean: dict[str, pl.DataFrame]) -> None:
    book = fastexcel.read_excel(folder / "sales_2026_h1.xlsx")
    assert book.sheet_names == ["Q1", "Q2", "Notes"]
    units: Ledger = Counter()
    cents: Ledger = Counter()
    for quarter in ("Q1", "Q2"):
        sheet = book.load_sheet(quarter, header_row=2).to_polars().drop_nulls("Pieces")
        table = sheet.select("Day", "Article", "Pieces", "Revenue", "Reduced")
        assert table["Day"].dtype.is_numeric() == (quarter == "Q2")
        for day, gtin, sold, net, reduced in table.iter_rows():
            real = date(1899, 12, 30) + timedelta(int(day)) if quarter == "Q2" else day.date()
            assert len(gtin) == 14
            key = real, LINE_OF[gtin[1:]], reduced
            units[key] += int(sold)
            cents[key] += round(100 * net)
    assert (units, cents) == clean_sales(clean, date(2026, 1, 1), date(2026, 6, 30))


def test_french_sales_are_the_clean_ones_but_for_the_minor_line(
    folder: Path, defects: tuple[Defect, ...], clean: dict[str, pl.DataFrame]
) -> None:
    units: Ledger = Counter()
    cents: Ledger = Counter()
    for written_day, name, sold, net, reduced in good_rows(folder, defects, "sales_2026_h2.csv.gz"):
        day, month, year = written_day.split()
        line = LINE_OF[name]
        if line == MINOR_LINE:
            continue
        key = (
            date(int(year), FRENCH_MONTHS[month], int(day)),
            line,
            {"oui": "yes", "non": "no"}[reduced],
        )
        units[key] += int(sold)
        cents[key] += int("".join(c for c in net if c.isdigit()))
    want = clean_sales(clean, date(2026, 7, 1), TRUTH.end)
    assert units == Counter({k: n for k, n in want[0].items() if MINOR_LINE not in k})
    assert cents == Counter({k: n for k, n in want[1].items() if MINOR_LINE not in k})


def test_the_older_export_holds_only_days_of_the_newer_one_and_other_figures(
    folder: Path, clean: dict[str, pl.DataFrame]
) -> None:
    older = rows_of(folder, "sales_2025-03.csv")[1:]
    want = clean_sales(clean, date(2025, 3, 3), date(2025, 3, 9))[0]
    got = Counter({(date.fromisoformat(d), p, r): int(u) for d, p, u, _, r in older})
    assert set(got) == set(want)
    assert {key[0] for key in want if got[key] != want[key]} == {date(2025, 3, 9)}
    assert sorted(["sales_2025.tsv", "sales_2025-03.csv"])[-1] == "sales_2025.tsv"


def test_wide_bakes_are_the_clean_ones(
    folder: Path, defects: tuple[Defect, ...], clean: dict[str, pl.DataFrame]
) -> None:
    header = rows_of(folder, "bakes.csv")[0]
    assert header == ["date", *(line.name for line in TRUTH.lines), "Total"]
    got: Ledger = Counter()
    for row in good_rows(folder, defects, "bakes.csv"):
        of_day = {
            line: int(cell) for line, cell in zip(header[1:-1], row[1:-1], strict=True) if cell
        }
        assert sum(of_day.values()) == int(row[-1])
        got.update({(date.fromisoformat(row[0]), line): units for line, units in of_day.items()})
    assert got == Counter({(day, line): units for day, line, units in clean["bakes"].iter_rows()})


def test_the_word_among_the_bakes_stands_alone_in_its_row(
    folder: Path, defects: tuple[Defect, ...]
) -> None:
    defect = next(d for d in defects if d.name == "number_in_words")
    assert defect.row is not None
    rows = rows_of(folder, defect.file)
    filled = {
        header: cell for header, cell in zip(rows[0], rows[defect.row - 1], strict=True) if cell
    }
    assert filled == {"date": "2025-06-12", defect.column: "five"}


def test_wide_counts_are_the_clean_ones(folder: Path, clean: dict[str, pl.DataFrame]) -> None:
    header, *rows = rows_of(folder, "counts.txt")
    nights = [datetime.strptime(text, "%d %B %Y").date() for text in header[1:]]
    got = {
        (night, row[0], int(cell))
        for row in rows
        for night, cell in zip(nights, row[1:], strict=True)
        if cell
    }
    assert got == set(clean["counts"].iter_rows())


def test_disposals_are_the_clean_ones_but_for_the_minor_line(
    folder: Path, defects: tuple[Defect, ...], clean: dict[str, pl.DataFrame]
) -> None:
    names = {line.name.casefold(): line.name for line in TRUTH.lines}
    got: Ledger = Counter()
    for row in good_rows(folder, defects, "disposals.csv"):
        day, name, units, reason, baked, _ = row
        line = names[" ".join(name.casefold().split())]
        got[european(day), line, reason, european(baked)] += int(units)
    want: Ledger = Counter()
    for day, line, units, reason, baked in clean["disposals"].iter_rows():
        want[day, line, reason, baked] += units
    assert without_minor_line(got) == without_minor_line(want)
    assert sum(got.values()) > sum(want.values())


def test_the_draft_proves_no_order_of_its_dates(folder: Path) -> None:
    days = [row[0] for row in rows_of(folder, "disposals_2024-11.csv")[1:]]
    assert len(set(days)) > 5
    for day in days:
        european(day)
        american(day)


def test_markdowns_are_the_clean_ones(
    folder: Path, defects: tuple[Defect, ...], clean: dict[str, pl.DataFrame]
) -> None:
    rows = good_rows(folder, defects, "markdowns.csv")
    october = good_rows(folder, defects, "markdowns_2026-10.csv")
    assert all(int(row[0].split("/")[1]) <= 12 for row in october)
    got = sorted(
        (american(day), LINE_OF[code], int(units), float(price.rstrip(" $")), american(baked))
        for day, code, units, price, baked in rows + october
    )
    assert got == sorted(clean["markdowns"].iter_rows())


def test_one_closure_is_missing_from_the_events(
    folder: Path, clean: dict[str, pl.DataFrame]
) -> None:
    header, *rows = rows_of(folder, "events.csv")
    assert header == clean["events"].columns
    assert len(rows) == clean["events"].height - 1
    closure = TRUTH.sudden_closures[0]
    assert not any(row[0] == closure.isoformat() for row in rows)
    assert closure not in set(clean["sales"]["date"])


def test_what_cannot_be_read_is_there_and_cannot_be_read(folder: Path) -> None:
    assert not zipfile.is_zipfile(folder / "counts_2025.xlsx")
    assert (folder / "counts_2025.xlsx").read_bytes().startswith(b"PK")
    assert (folder / FOLDER).is_dir()
    broken, out = folder / BROKEN_LINK[0], folder / LINK_OUT[0]
    assert broken.is_symlink()
    assert not broken.exists()
    assert out.is_file()
    assert not out.resolve().is_relative_to(folder.resolve())


def test_the_settings_are_the_clean_ones_and_explain_the_exports(folder: Path) -> None:
    store = read_store(folder)
    plain = tuple(
        line.model_copy(update={"also_called": (), "introduced": None}) for line in store.lines
    )
    assert store.capacity is not None
    most = store.capacity.pans(0)
    assert plain == tuple(line.settings.within_pans(most) for line in TRUTH.lines)
    assert {line.name for line in store.lines if line.introduced} == {MINOR_LINE}
    assert store.line(MINOR_LINE).introduced == TRUTH.line(MINOR_LINE).first_day
    header = rows_of(folder, "markdowns.csv")[0]
    assert list(store.columns["markdowns"].values()) == header
    assert store.date_order == {"markdowns": "month-day-year"}


def test_the_command_writes_it_and_names_the_next_step(folder: Path, tmp_path: Path) -> None:
    ended = CliRunner().invoke(app, ["sample", str(tmp_path), "--messy"])
    assert ended.exit_code == 0
    assert f"shrinkwise check {tmp_path}" in ended.output
    assert content(tmp_path) == content(folder)


def test_neither_sample_is_written_over_the_other(folder: Path, tmp_path: Path) -> None:
    before = content(folder)
    with pytest.raises(ShrinkwiseError, match=r"already holds store\.toml"):
        write_sample(folder)
    assert content(folder) == before
    write_sample(tmp_path)
    before = content(tmp_path)
    with pytest.raises(ShrinkwiseError, match="Name an empty or a new folder"):
        write_messy_sample(tmp_path)
    assert content(tmp_path) == before


def test_where_links_cannot_be_made_it_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(target: str, path: Path) -> None:
        raise OSError(1, "Operation not permitted")

    monkeypatch.setattr(os, "symlink", refuse)
    with pytest.raises(ShrinkwiseError, match="knows symbolic links"):
        write_messy_sample(tmp_path)
