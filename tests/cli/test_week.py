"""`plan --week`: the files of a week, and a week that cannot be planned."""

import json
from collections.abc import Callable
from pathlib import Path

import polars as pl
import pytest

from shrinkwise.cli import app
from shrinkwise.errors import ShrinkwiseError


def test_a_week_is_written_beside_the_plan(small_folder: Path, tmp_path: Path) -> None:
    app(
        ["plan", str(small_folder), "--out", str(tmp_path), "--week", "2026-W48"],
        standalone_mode=False,
    )
    table = pl.read_csv(tmp_path / "week_plan.csv", try_parse_dates=True)
    assert table.height == 3 * 7
    assert table["date"].min().isoformat() == "2026-11-23"  # type: ignore[union-attr]
    document = json.loads((tmp_path / "plan.json").read_text(encoding="utf-8"))["week"]
    assert document["name"] == "2026-W48"
    assert len(document["bakes"]) == table.height
    assert document["may_not_fit"] == []
    page = (tmp_path / "bake_plan.html").read_text(encoding="utf-8")
    assert "In 2026-W48" in page


@pytest.mark.parametrize("week", ["2026-W30", "2028-W01", "Christmas"])
def test_a_week_that_cannot_be_planned_writes_nothing(
    small_copy: Callable[[], Path], tmp_path: Path, week: str
) -> None:
    out = tmp_path / "out"
    arguments = ["plan", str(small_copy()), "--out", str(out), "--week", week]
    with pytest.raises(ShrinkwiseError, match=r"2026-W4\d"):
        app(arguments, standalone_mode=False)
    assert not out.exists()
