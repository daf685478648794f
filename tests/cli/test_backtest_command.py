"""The back-test as a user meets it."""

import csv
from pathlib import Path

import pytest
from test_commands import DONE, NOT_POSSIBLE, run


def test_it_writes_scores_and_quantiles(small_folder: Path, tmp_path: Path) -> None:
    ended = run("backtest", small_folder, "--weeks", "1", "--out", tmp_path / "out")
    assert (ended.code, ended.err) == (DONE, "")
    assert ended.out.startswith("Had the plan been followed from 2026-09-28 to 2026-10-04")
    assert "Predicted a week ahead, 2026-09-28 to 2026-10-04" in ended.out
    assert "Written to" in ended.out
    with (tmp_path / "out" / "backtest_quantiles.csv").open(encoding="utf-8") as file:
        days = list(csv.DictReader(file))
    assert len(days) == 21
    assert list(days[0]) == [
        "product", "date", "units_sold", "sold_out",
        "q05", "q10", "q25", "q50", "q75", "q90", "q95",
    ]  # fmt: skip
    assert {day["sold_out"] for day in days} <= {"yes", "no"}
    # whole units, as they were drawn
    assert all(day["q50"].isdigit() for day in days)
    with (tmp_path / "out" / "backtest.csv").open(encoding="utf-8") as file:
        scores = list(csv.DictReader(file))
    assert [row["product"] for row in scores][:1] == ["All lines"]
    assert sum(int(row["days"]) for row in scores[1:4]) == int(scores[0]["days"])
    with (tmp_path / "out" / "backtest_batches.csv").open(encoding="utf-8") as file:
        batches = list(csv.DictReader(file))
    assert [row["product"] for row in batches][:1] == ["All lines"]
    assert len(batches) == 4
    with (tmp_path / "out" / "demand_effects.csv").open(encoding="utf-8") as file:
        effects = list(csv.DictReader(file))
    assert {row["product"] for row in effects} > {"All lines", "Italian loaf"}
    with (tmp_path / "out" / "price_elasticity.csv").open(encoding="utf-8") as file:
        prices = {row["name"]: row for row in csv.DictReader(file)}
    assert prices["Kaiser rolls"]["rests_on"] == "own logs"
    assert prices["Italian loaf"]["rests_on"] == "other lines"
    page = (tmp_path / "out" / "demand.html").read_text(encoding="utf-8")
    assert "Within the 80% interval foreseen a week before" in page


@pytest.mark.parametrize("weeks", ["200", "0"])
def test_more_weeks_than_there_are_are_refused(
    small_folder: Path, tmp_path: Path, weeks: str
) -> None:
    out = tmp_path / "out"
    ended = run("backtest", small_folder, "--weeks", weeks, "--out", out)
    assert ended.code == NOT_POSSIBLE
    assert "--weeks" in ended.err
    assert not out.exists()


def test_a_file_in_the_way_is_said_before_anything_is_fitted(
    small_folder: Path, tmp_path: Path
) -> None:
    (tmp_path / "out").write_text("mine", encoding="utf-8")
    ended = run("backtest", small_folder, "--weeks", "1", "--out", tmp_path / "out")
    assert ended.code == NOT_POSSIBLE
    assert "is a file" in ended.err
    assert (tmp_path / "out").read_text(encoding="utf-8") == "mine"
