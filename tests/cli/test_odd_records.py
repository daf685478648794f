"""Commands on records in doubt: the exit code asks for a look, and no line is passed over."""

from collections.abc import Callable
from pathlib import Path

import pytest

from shrinkwise.cli import DONE_WITH_FINDINGS, app

Run = Callable[..., str]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    """Runs a command that must end with a wish for a look; what it said, in one line."""

    def running(*arguments: str | Path) -> str:
        code = app([str(argument) for argument in arguments], standalone_mode=False)
        assert code == DONE_WITH_FINDINGS
        return " ".join(capsys.readouterr().out.split())

    return running


def rewrite(path: Path, kept: Callable[[str], bool]) -> None:
    head, *rows = path.read_text(encoding="utf-8").splitlines()
    path.write_text("\n".join([head, *filter(kept, rows), ""]), encoding="utf-8")


@pytest.fixture
def without_rolls(small_copy: Callable[[], Path]) -> Path:
    """The small store, whose rolls are neither baked nor sold since July."""
    folder = small_copy()
    for path in folder.glob("*.csv"):
        rewrite(path, lambda row: ",Kaiser rolls" not in row or row[:10] <= "2026-06-30")
    return folder


ENDED = "neither baked nor sold since 2026-06-30"
TAKE_OUT = f"{ENDED}; take it out of store.toml, unless it comes back in its season."


def test_a_line_that_has_ended_is_said_and_not_planned(
    run: Run, without_rolls: Path, tmp_path: Path
) -> None:
    assert f"store.toml, product: 'Kaiser rolls' is {ENDED}" in run("check", without_rolls)
    said = run("plan", without_rolls, "--out", tmp_path / "out")
    assert f"No plan for Kaiser rolls: {TAKE_OUT}" in said
    assert said.count("Kaiser rolls") == 1
    for name in ("bake_plan.csv", "recommendations.csv"):
        text = (tmp_path / "out" / name).read_text(encoding="utf-8")
        assert "Kaiser" not in text
        assert "Italian loaf" in text


def test_a_line_that_has_ended_was_not_sold_out_last_week(run: Run, without_rolls: Path) -> None:
    said = run("review", without_rolls)
    assert "The lines that cost most: Italian loaf USD" in said
    assert said.count("Kaiser rolls") == 1
    assert f"Not told of Kaiser rolls: {TAKE_OUT}" in said


def test_a_switch_of_a_line_that_has_ended_says_why_it_changes_nothing(
    run: Run, without_rolls: Path, tmp_path: Path
) -> None:
    scenario = tmp_path / "rolls.toml"
    scenario.write_text(
        'name = "Rolls"\n[[changes]]\nline = "Kaiser rolls"\nextra_days = 1\n', encoding="utf-8"
    )
    said = run("compare", without_rolls, scenario, "--out", tmp_path / "out")
    assert "The week comes out the same." in said
    assert f"Kaiser rolls is not weighed: {TAKE_OUT}" in said


def test_files_of_two_tills_are_said(run: Run, small_copy: Callable[[], Path]) -> None:
    folder = small_copy()
    path = folder / "sales_2026.csv"
    head, *rows = path.read_text(encoding="utf-8").splitlines()
    path.unlink()
    for k, till in enumerate(("till1", "till2")):
        parts = [row.split(",") for row in rows]
        split = [[*row[:2], str((int(row[2]) + k) // 2 + k), *row[3:]] for row in parts]
        text = "\n".join([head, *(",".join(row) for row in split), ""])
        (folder / f"sales_{till}.csv").write_text(text, encoding="utf-8")
    said = run("check", folder)
    assert "doubt: sales_till1.csv, row 2, units" in said
    assert "holds other units than sales_till2.csv" in said
    assert "put their rows into one file" in said
    assert "The records want a look: 1 finding, 0 rows set aside." in run("review", folder)


def test_a_review_without_disposals_says_that_they_are_missing(
    small_copy: Callable[[], Path], capsys: pytest.CaptureFixture[str]
) -> None:
    folder = small_copy()
    (folder / "disposals.csv").unlink()
    app(["review", str(folder)], standalone_mode=False)
    said = " ".join(capsys.readouterr().out.split())
    assert "lost to markdown and labour; mean" in said
    assert "No disposals are logged: what was thrown is in none of these figures" in said
    assert "Disposed of units – –" in said
    assert "by reason" not in said
