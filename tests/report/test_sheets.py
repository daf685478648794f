"""CSV and Excel: text from the logs stays text, and the same table gives the same file."""

import csv
from datetime import date
from io import BytesIO, StringIO
from zipfile import ZipFile

import fastexcel
import polars as pl
import pytest

from shrinkwise.planning.plan import BakePlan
from shrinkwise.report.plan_tables import bake_plan_table, recommendations_table
from shrinkwise.report.sheets import csv_text, workbook

DATED = date(2026, 10, 5)


def csv_cells(text: str) -> list[list[str]]:
    return list(csv.reader(StringIO(text)))


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_text_that_a_spreadsheet_would_run_is_guarded(start: str) -> None:
    table = pl.DataFrame({"product": [f"{start}1+1", f"rye{start}1"], "units": [-3, 4]})
    cells = csv_cells(csv_text(table))
    assert cells[1] == [f"'{start}1+1", "-3"]
    # only the beginning of a cell is run, and numbers are no text
    assert cells[2] == [f"rye{start}1", "4"]


def test_two_decimals_and_plain_text() -> None:
    table = pl.DataFrame(
        {"product": ['Jo\'s "best", rye', "Brötchen"], "loss": [1.005, -1234.5], "n": [None, 7]}
    )
    text = csv_text(table)
    assert text.splitlines()[0] == "product,loss,n"
    assert csv_cells(text)[1] == ['Jo\'s "best", rye', "1.00", ""]
    assert csv_cells(text)[2] == ["Brötchen", "-1234.50", "7"]


def test_the_sample_plans_csv_holds_no_formula(trap_plan: BakePlan) -> None:
    cells = csv_cells(csv_text(recommendations_table(trap_plan)))
    assert cells[1][0] == "'=1+1"
    money = [cells[0].index(name) for name in ("loss_week_now", "saving_week_se")]
    for row in cells[1:]:
        for column in money:
            assert len(row[column].partition(".")[2]) == 2


@pytest.fixture(scope="module")
def book(trap_plan: BakePlan) -> bytes:
    sheets = {
        "Bake plan": bake_plan_table(trap_plan),
        "Recommendations": recommendations_table(trap_plan),
    }
    return workbook(sheets, DATED)


def test_the_workbook_opens_with_its_tables(book: bytes, trap_plan: BakePlan) -> None:
    reader = fastexcel.read_excel(book)
    assert reader.sheet_names == ["Bake plan", "Recommendations"]
    table = recommendations_table(trap_plan)
    read = reader.load_sheet("Recommendations").to_polars()
    assert read.columns == [name.replace("_", " ") for name in table.columns]
    assert read.height == table.height
    # a name like a formula is a name, and no apostrophe is needed in front of it here
    assert read["product"].to_list() == table["product"].to_list()
    assert read["product"][0] == "=1+1"
    assert read["loss week now"].to_list() == pytest.approx(table["loss_week_now"].to_list())
    read = reader.load_sheet("Bake plan").to_polars()
    targets = bake_plan_table(trap_plan)["target_units"]
    assert targets.null_count() > 0
    assert read["target units"].cast(pl.Int64).to_list() == targets.to_list()


def test_no_cell_is_a_formula_and_the_header_stays_in_sight(book: bytes) -> None:
    with ZipFile(BytesIO(book)) as parts:
        for sheet in ("sheet1", "sheet2"):
            xml = parts.read(f"xl/worksheets/{sheet}.xml").decode()
            assert "<f>" not in xml
            assert '<pane xSplit="1" ySplit="1"' in xml
            assert 'state="frozen"' in xml
            assert "<autoFilter" in xml
        assert "=1+1" in parts.read("xl/sharedStrings.xml").decode()


def test_a_web_address_stays_a_text() -> None:
    # a click in a report must not lead to where a row of the logs points
    made = workbook({"One": pl.DataFrame({"product": ["http://example.invalid"]})}, DATED)
    with ZipFile(BytesIO(made)) as parts:
        assert "<hyperlink" not in parts.read("xl/worksheets/sheet1.xml").decode()


def test_empty_and_undefined_cells_are_empty() -> None:
    table = pl.DataFrame({"product": ["a", None], "loss": [float("nan"), 2.0]})
    read = fastexcel.read_excel(workbook({"One": table}, DATED)).load_sheet(0).to_polars()
    assert read.rows() == [("a", None), (None, 2.0)]


def test_the_same_tables_give_the_same_bytes(trap_plan: BakePlan) -> None:
    table = recommendations_table(trap_plan)
    made = workbook({"One": table}, DATED)
    assert made == workbook({"One": table}, DATED)
    assert made != workbook({"One": table}, date(2026, 10, 12))
