"""The empty shelf in words and cells."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from shrinkwise.money.unmet import ALL_LINES, UnmetWeek
from shrinkwise.report.unmet_tables import missed_sales_table, missed_sales_text, not_told_text

WEEK = date(2026, 9, 28)


def week(left_out: dict[str, str] | None = None, times: int = 1) -> UnmetWeek:
    """Two lines, 101 courses: rolls miss 0 to 100 on Monday, loaves 10 on Sunday of each."""
    units = np.zeros((3, 7, 101), np.int64)
    units[0, 0], units[1, 6] = np.arange(101), 10
    lines = ("Rolls", "Loaves", "Buns")
    return UnmetWeek(WEEK, lines, times * units, np.array([0.1, 3.0, 1.0]), left_out or {})


def test_the_costliest_line_comes_first_and_all_lines_last() -> None:
    table = missed_sales_table(week())
    assert table["product"].to_list() == ["Loaves", "Rolls", ALL_LINES]
    loaves, rolls, store = table.rows(named=True)
    assert (loaves["monday"], loaves["sunday"]) == (None, "10 (10–10)")
    assert loaves["missed_margin"] == "30 (30–30)"
    assert (rolls["monday"], rolls["week"]) == ("50 (5–95)", "50 (5–95)")
    assert store["week"] == "60 (15–105)"
    assert store["missed_margin"] == "35 (30–40)"


def test_the_sentence() -> None:
    assert missed_sales_text(week(), "USD") == (
        "About 60 units (15 to 105) were wanted and not there: USD 35 of margin lost, in nine of "
        "ten cases USD 30 to USD 40."
    )
    assert missed_sales_text(week(times=0), "USD").startswith("No line was sold out")
    nothing = replace(week(), lines=(), units=np.zeros((0, 7, 3), np.int64), margin=np.zeros(0))
    assert missed_sales_text(nothing, "USD") == "What was missed cannot be told."


@pytest.mark.parametrize(
    ("left_out", "said"),
    [({}, ""), ({"Rye": "why", "Oat": "why"}, "Not told of Rye, Oat: why.")],
)
def test_lines_left_out_are_named(left_out: dict[str, str], said: str) -> None:
    assert not_told_text(week(left_out)) == said
