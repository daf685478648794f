"""A table that is written in any dialect reads back as it was, or the reader asks: never misread.

The tables are drawn, and so is everything in which tills and spreadsheets differ.
"""

from pathlib import Path

import polars as pl
import pytest
from drawn_tables import LINES, Case, ambiguous, cases
from hypothesis import HealthCheck, assume, given, settings

from shrinkwise.records.findings import DOUBT, GUESS, NOT_READ, NOTE
from shrinkwise.records.reading import read_records
from shrinkwise.records.tables import Records

LINE = """
[[lines]]
name = '{}'
category = "breads"
price = 4.0
dough_cost = 1.2
shelf_life_days = 3
"""
STORE = 'name = "Corner store"\ncurrency = "USD"\ncountry = "US"\n'

quick = [HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.filter_too_much]
thorough = settings(deadline=None, derandomize=True, suppress_health_check=quick)


def read_back(folder: Path, case: Case, declared: bool) -> Records:
    """Write a case into a fresh folder, beside a day of plain sales and disposals; read it."""
    for path in folder.iterdir():
        path.unlink()
    table, how = case.table, case.dialect
    said = f'[date_order]\n{table} = "{how.order}"\n' * (declared and case.open_order)
    said += f'[decimal_mark]\n{table} = "{how.mark}"\n' * (declared and case.open_mark)
    (folder / "store.toml").write_text(STORE + said + "".join(map(LINE.format, LINES)), "utf-8")
    how.write(folder / f"{table}_b{how.ending}", case.grid)
    if table != "sales" or not declared:
        plain = "date,product,units,net_sales\n2000-01-01,Rye loaf,5,20\n"
        (folder / "sales_a.csv").write_text(plain, "utf-8")
    if table != "disposals":
        (folder / "disposals_a.csv").write_text("date,product,units\n", "utf-8")
    return read_records(folder)


def table_of(records: Records, case: Case) -> pl.DataFrame:
    return getattr(records, case.table).filter(pl.col("file") != "sales_a.csv")


@pytest.fixture(scope="module")
def spare(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("dialects")


@given(case=cases())
@settings(thorough, max_examples=500, report_multiple_bugs=False)
def test_a_table_in_any_dialect_reads_back_as_it_was(spare: Path, case: Case) -> None:
    records = read_back(spare, case, declared=True)
    # sales without money are valued by the reader, which says so
    expected = {NOTE, DOUBT, GUESS} if case.valued else {NOTE, DOUBT}
    assert set(records.problems["severity"]) <= expected, records.problems.rows()
    assert_same(records, case)


def assert_same(records: Records, case: Case) -> None:
    """The table holds the units and the money of the truth, to the cent, and nothing else."""
    read = table_of(records, case)
    names = ("hour", "reduced", "reason", "bake_date")
    absent = [pl.lit(None).alias(name) for name in names if name not in read.columns]
    keys = read.with_columns(absent).select("date", "product", *names).rows()
    assert dict(zip(keys, read["units"], strict=True)) == case.truth
    assert read["rows"].sum() == case.n_rows
    if case.table == "sales":
        money = {key: cents / 100 for key, cents in case.money.items()}
        assert dict(zip(keys, read["net_sales"], strict=True)) == money
    for file, _, rows_read, used, set_aside, replaced in records.files.iter_rows():
        assert rows_read == used + set_aside + replaced, file


@given(case=ambiguous)
@settings(thorough, max_examples=100)
def test_a_table_that_reads_in_two_ways_is_not_read_until_the_store_says_how(
    spare: Path, case: Case
) -> None:
    assume(case.open_order or case.open_mark)
    unread = read_back(spare, case, declared=False)
    assert table_of(unread, case).is_empty()
    faults = unread.problems.filter(pl.col("severity") == NOT_READ)
    assert faults["file"].to_list() == [f"{case.table}_b{case.dialect.ending}"]
    asked = {(s.section, s.key, s.value) for s in unread.suggestions}
    order, mark = ("date_order", case.table), ("decimal_mark", case.table)
    assert {question[:2] for question in asked} <= {
        *([order] * case.open_order),
        *([mark] * case.open_mark),
    }
    assert len(asked) == 1
    assert_same(read_back(spare, case, declared=True), case)
