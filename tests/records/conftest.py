"""Small records folders, written by hand, and the sum rule that holds for every file of them."""

from collections.abc import Callable, Sequence
from datetime import date
from pathlib import Path
from typing import Any

import polars as pl
import pytest

from shrinkwise.records.findings import REPLACED, SET_ASIDE
from shrinkwise.records.reading import read_records
from shrinkwise.records.tables import Records

STORE = """\
name = "Corner store"
currency = "USD"
country = "US"

[[lines]]
name = "Rye loaf"
category = "breads"
price = 4.0
dough_cost = 1.2
shelf_life_days = 3
reduce_on_day = 3
reduced_price = 2.0

[[lines]]
name = "Bagels"
category = "rolls"
price = 3.0
dough_cost = 0.9
shelf_life_days = 2
"""

Content = str | bytes | Callable[[Path], object] | None
Folder = Callable[..., Path]


@pytest.fixture
def folder(tmp_path: Path) -> Folder:
    """Writes files given by their names into a folder.

    A file is a text, bytes, a function that writes to its path, or None to take it out. There
    are always a store.toml (`block` goes above its lines), sales of one day, and disposals of
    none.
    """

    def write(files: dict[str, Content] | None = None, block: str = "", store: str = STORE) -> Path:
        least: dict[str, Content] = {
            "sales.csv": "date,product,units,net_sales\n2026-03-02,Rye loaf,5,20.00\n",
            "disposals.csv": "date,product,units\n",
        }
        text = store.replace("\n[[lines]]", f"{block}\n[[lines]]", 1)
        (tmp_path / "store.toml").write_text(text, encoding="utf-8")
        for name, content in (least | (files or {})).items():
            if isinstance(content, bytes):
                (tmp_path / name).write_bytes(content)
            elif isinstance(content, str):
                (tmp_path / name).write_text(content, encoding="utf-8", newline="")
            elif content is not None:
                content(tmp_path / name)
        return tmp_path

    return write


def unbalanced(records: Records) -> list[str]:
    """Where the rows of a file do not add up: read = used + set aside + replaced."""
    wrong = []
    for file, table, read, used, aside, replaced in records.files.iter_rows():
        rows = getattr(records, table).filter(pl.col("file") == file)
        found = records.problems.filter(pl.col("file") == file)
        of_rows = found.filter(pl.col("row").is_not_null() & (pl.col("rows") > 0))
        left_out = of_rows.filter(pl.col("severity").is_in([SET_ASIDE, "note"]))["rows"].sum()
        if read != used + aside + replaced:
            wrong.append(f"{file}: {read} read, {used} + {aside} + {replaced} accounted for")
        if used != rows["rows"].sum():
            wrong.append(f"{file}: {used} used, {rows['rows'].sum()} in the table")
        # a row with two faults has two findings
        if not (aside <= left_out and (aside > 0) == (left_out > 0)):
            wrong.append(f"{file}: {aside} set aside, {left_out} in the findings")
        if replaced != found.filter(pl.col("severity") == REPLACED)["rows"].sum():
            wrong.append(f"{file}: {replaced} replaced, which the findings do not say")
    return wrong


Read = Callable[..., Records]


@pytest.fixture
def read(folder: Folder) -> Read:
    """Writes a folder as `folder` does and reads it; whatever it holds, the rows add up."""

    def reading(*args: Any, **kwargs: Any) -> Records:
        records = read_records(folder(*args, **kwargs))
        assert unbalanced(records) == []
        return records

    return reading


Gives = Callable[..., Records]


@pytest.fixture
def gives(read: Read) -> Gives:
    """Reads a folder and holds one of its tables and all of its problems against what is given.

    `rows` are (row, rows, the columns of the table) without the empty ones at their end and with
    days as texts; `problems` are (severity, file, row, column, value, rule, rows).
    """

    def check(
        files: dict[str, Content],
        rows: Sequence[tuple[object, ...]],
        problems: Sequence[tuple[object, ...]] = (),
        *,
        table: str = "sales",
        **kwargs: Any,
    ) -> Records:
        records = read(files, **kwargs)
        assert [_bare(row) for row in getattr(records, table).drop("file").iter_rows()] == list(
            rows
        )
        assert records.problems.drop("what_to_do").rows() == list(problems)
        assert all(advice.endswith(".") for advice in records.problems["what_to_do"])
        return records

    return check


def _bare(row: tuple[object, ...]) -> tuple[object, ...]:
    cells = [str(cell) if isinstance(cell, date) else cell for cell in row]
    while cells and cells[-1] is None:
        cells.pop()
    return tuple(cells)
