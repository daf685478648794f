"""What is rounded to nothing has no sign, wherever it is written."""

from datetime import date
from io import BytesIO

import polars as pl
import pytest

from shrinkwise.report.cells import cell_text, number_text
from shrinkwise.report.effect_tables import prices_shown
from shrinkwise.report.html import table_html
from shrinkwise.report.sheets import csv_text, workbook
from shrinkwise.report.words import with_interval


@pytest.mark.parametrize(
    ("number", "how", "text"),
    [
        (-0.004, ",.2f", "0.00"),
        (-0.0, ",.2f", "0.00"),
        (-0.006, ",.2f", "-0.01"),
        (-0.04, ".1f", "0.0"),
        (-0.4, "+.0f", "+0"),
        (-1e-9, ",.4f", "0.0000"),
        (-1204.5, ",.2f", "-1,204.50"),
        (float("nan"), ",.2f", "nan"),
        (float("-inf"), ",.2f", "-inf"),
    ],
)
def test_numbers(number: float, how: str, text: str) -> None:
    assert number_text(number, how) == text


def test_cells() -> None:
    cells = [None, -0.001, 3, "Rye loaf", date(2026, 10, 4)]
    assert [cell_text(cell) for cell in cells] == ["–", "0.00", "3", "Rye loaf", "2026-10-04"]
    assert cell_text(1234.56, ",.1f") == "1,234.6"


@pytest.fixture
def table() -> pl.DataFrame:
    return pl.DataFrame({"product": ["a", "b", "c", "d"], "saving": [-0.001, -0.0, -0.006, None]})


def test_a_page(table: pl.DataFrame) -> None:
    html = table_html(table)
    assert "-0.00" not in html
    assert "-0.01" in html


@pytest.mark.parametrize(
    ("decimals", "cells"),
    [
        (2, ["0.00", "0.00", "-0.01", ""]),
        (4, ["-0.0010", "0.0000", "-0.0060", ""]),
    ],
)
def test_a_csv_file(decimals: int, cells: list[str], table: pl.DataFrame) -> None:
    rows = csv_text(table, decimals).splitlines()[1:]
    assert [row.split(",")[1] for row in rows] == cells


def test_a_workbook(table: pl.DataFrame) -> None:
    read = pl.read_excel(BytesIO(workbook({"Savings": table}, date(2026, 10, 4))))
    assert read["saving"].to_list() == [0.0, 0.0, -0.006, None]


def test_intervals_in_a_cell() -> None:
    ends = {"share": [-0.02], "share_low": [-0.04], "share_high": [0.1]}
    assert with_interval(pl.DataFrame(ends), "share", 1)["share"].item() == "0.0 (0.0 to 0.1)"
    row = {
        "name": "Rye loaf", "elasticity": -0.004, "elasticity_low": -1.5, "elasticity_high": -0.001,
        "from_logs_pct": 3.0, "promotion_off_pct": 20.0, "lift_pct": -0.3, "lift_low_pct": -4.0,
        "lift_high_pct": 9.0, "price_changes": 1, "promotion_days": 2, "rests_on": "logs",
        "lift_rests_on": "logs",
    }  # fmt: skip
    shown = prices_shown(pl.DataFrame([row])).row(0, named=True)
    assert shown["elasticity"] == "0.00 (-1.50 to 0.00)"
    assert shown["lift_at_20%_off_[%]"] == "0 (-4 to 9)"
