"""Tables on the terminal and in a file: whatever there is no room for, no number is cut."""

import re
from io import StringIO

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rich.cells import cell_len
from rich.console import Console

from shrinkwise.report.labels import label
from shrinkwise.report.terminal_table import print_table

LONG = "Hand-rolled cinnamon rolls with brown sugar, cream cheese icing and toasted pecans"

NAMES = st.text(
    st.characters(min_codepoint=32, max_codepoint=0x3FF, exclude_categories=("C",)),
    min_size=1,
    max_size=120,
)
FLOATS = st.floats(-1e12, 1e12) | st.none()
WHOLE = st.integers(-(10**15), 10**15)


@st.composite
def tables(draw: st.DrawFn) -> pl.DataFrame:
    """Named rows with many numbers, some of them in texts."""
    height = draw(st.integers(0, 4))

    def cells(of: st.SearchStrategy[object]) -> list[object]:
        return draw(st.lists(of, min_size=height, max_size=height))

    found = {"product": pl.Series(cells(NAMES), dtype=pl.String)}
    for number in range(draw(st.integers(1, 14))):
        kind = draw(st.sampled_from(["float", "whole", "text"]))
        title = draw(st.sampled_from(["loss_week", "batch_units", "waste_units_week_habit", "why"]))
        name = f"{title}_{number}"
        if kind == "float":
            found[name] = pl.Series(cells(FLOATS), dtype=pl.Float64)
        elif kind == "whole":
            found[name] = pl.Series(cells(WHOLE), dtype=pl.Int64)
        else:
            said = [f"saves USD {n:,} a week (in nine of ten {n:.2f})" for n in cells(WHOLE)]
            found[name] = pl.Series(said, dtype=pl.String)
    return pl.DataFrame(found)


def printed(
    table: pl.DataFrame, width: int, title: str | None = None, keys: int = 1, is_file: bool = False
) -> str:
    console = Console(
        file=StringIO(), width=width, force_terminal=not is_file, color_system=None, soft_wrap=True
    )
    print_table(console, table, title, keys)
    assert isinstance(console.file, StringIO)
    return console.file.getvalue()


def numbers_of(table: pl.DataFrame) -> list[str]:
    """The texts of all numbers, those in sentences too."""
    found = []
    for cells in table.iter_columns():
        for value in cells:
            if isinstance(value, float):
                found.append(f"{value:z,.2f}")
            elif isinstance(value, int):
                found.append(str(value))
            elif value is not None and cells.name != "product":
                found += re.findall(r"-?[\d,.]*\d", value)
    return found


@settings(max_examples=150, deadline=None)
@given(tables(), st.integers(60, 200), st.booleans())
def test_every_number_is_printed_in_full(table: pl.DataFrame, width: int, is_file: bool) -> None:
    said = printed(table, width, is_file=is_file)
    words = {word.strip("()") for word in said.split()}
    missing = set(numbers_of(table)) - words
    assert not missing
    assert "…" not in said
    if not is_file:
        assert max(map(cell_len, said.splitlines())) <= width


@pytest.fixture
def wide() -> pl.DataFrame:
    figures = {f"by day {day}": [8.25 + day, 20.5] for day in range(1, 31)}
    return pl.DataFrame({"product": ["Rye loaf", LONG], "shelf_life_days": [30, 31], **figures})


def test_columns_that_are_too_many_follow_below_beside_the_name(wide: pl.DataFrame) -> None:
    parts = printed(wide, 80, keys=2).split("\n\n")
    assert len(parts) > 2
    for part in parts:
        rows = [line for line in part.splitlines() if line.startswith(" Rye loaf")]
        assert [row.split()[2] for row in rows] == ["30"]
    days = [day for part in parts for day in re.findall(r"\b\d+\.25\b", part)]
    assert days == [f"{8.25 + day:.2f}" for day in range(1, 31)]


def test_a_file_has_room_for_all_columns(wide: pl.DataFrame) -> None:
    said = printed(wide, 80, keys=2, is_file=True)
    assert "\n\n" not in said
    (row,) = (line for line in said.splitlines() if line.startswith(" Rye loaf"))
    assert row.split()[3:] == [f"{8.25 + day:.2f}" for day in range(1, 31)]


def test_headers_and_long_texts_are_wrapped_by_words() -> None:
    why = " ".join(f"reason{number}" for number in range(40))
    table = pl.DataFrame({"product": [LONG], "waste_units_week_habit": [3.5], "why": [why]})
    words = printed(table, 60).split()
    for text in (LONG, why, label("waste_units_week_habit")):
        assert set(text.split()) <= set(words)


def test_a_short_text_with_its_numbers_stays_on_one_line() -> None:
    columns = {f"sold_{number}": ["61.2 (58.0 to 64.1)"] for number in range(6)}
    said = printed(pl.DataFrame({"product": [LONG], **columns}), 60)
    assert said.count("61.2 (58.0 to 64.1)") == 6


def test_a_name_is_never_read_as_markup_nor_a_unit_in_a_title() -> None:
    said = printed(pl.DataFrame({"product": ["[bold]XL[/bold] :bread:"]}), 80, "By line [units]")
    assert "[bold]XL[/bold] :bread:" in said
    assert said.startswith("By line [units]\n")
