"""The examples that a reader may copy: README's Python and the docstrings'."""

import contextlib
import doctest
import importlib
import io
import re
from datetime import date
from pathlib import Path

import pytest

CHECKOUT = Path(__file__).parents[1]


def test_readme_example_runs(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(CHECKOUT)
    code = re.search(r"```python\n(.*?)```", (CHECKOUT / "README.md").read_text(), re.DOTALL)
    assert code
    printed = io.StringIO()
    with contextlib.redirect_stdout(printed):
        exec(compile(code[1], "README.md", "exec"), {})
    assert re.search(r"saves \d+ a week, standard error \d", printed.getvalue())
    assert "the switch changes the week's result by -" in printed.getvalue()


def test_readme_store_file_is_the_smallest_valid_one(tmp_path: Path) -> None:
    from shrinkwise.profile.reading import read_store

    text = re.search(r"```toml\n(.*?)```", (CHECKOUT / "README.md").read_text(), re.DOTALL)
    assert text
    (tmp_path / "store.toml").write_text(text[1], encoding="utf-8")
    assert read_store(tmp_path).lines[0].name == "Dinner rolls"
    # without any one of its settings it is no longer valid
    rows = text[1].splitlines()
    for row in (row for row in rows if "=" in row):
        (tmp_path / "store.toml").write_text("\n".join(r for r in rows if r != row))
        with pytest.raises(Exception, match="missing"):
            read_store(tmp_path)


def test_readme_answers_to_open_questions_are_taken(tmp_path: Path) -> None:
    from shrinkwise.records.reading import read_records

    blocks = re.findall(r"```toml\n(.*?)```", (CHECKOUT / "README.md").read_text(), re.DOTALL)
    (tmp_path / "store.toml").write_text(blocks[1], encoding="utf-8")
    sales = "date;product;Mg.;net_sales\n02/03/2026;2000000004716;1,000;3,490\n"
    (tmp_path / "sales.csv").write_text(sales, encoding="utf-8")
    (tmp_path / "disposals.csv").write_text("date,product,units\n", encoding="utf-8")
    records = read_records(tmp_path)
    assert records.problems.is_empty()
    assert records.sales.select("date", "product", "units", "net_sales").rows() == [
        (date(2026, 3, 2), "Rye loaf", 1, 3.49)
    ]


def test_readme_limits_are_taken(tmp_path: Path) -> None:
    from shrinkwise.profile.reading import read_store

    blocks = re.findall(r"```toml\n(.*?)```", (CHECKOUT / "README.md").read_text(), re.DOTALL)
    (tmp_path / "store.toml").write_text(f"{blocks[0]}\n{blocks[2]}", encoding="utf-8")
    capacity = read_store(tmp_path).capacity
    assert capacity is not None
    assert [limit.name for limit in capacity.limits] == ["oven", "proofer", "racks", "shift"]
    assert [capacity.pans(day) for day in (3, 4, 5)] == [64, 60, 64]


def test_readme_scenario_is_taken(tmp_path: Path) -> None:
    from shrinkwise.profile.reading import read_store
    from shrinkwise.scenarios.scenario import read_scenario

    blocks = re.findall(r"```toml\n(.*?)```", (CHECKOUT / "README.md").read_text(), re.DOTALL)
    (tmp_path / "offer.toml").write_text(blocks[3], encoding="utf-8")
    store = read_store(CHECKOUT / "sample_data")
    offer = read_scenario(tmp_path / "offer.toml", store)
    rolls = [line.name for line in store.lines if line.category == "rolls"]
    assert list(offer.lines) == list(offer.factors) == rolls
    assert offer.labour is not None


@pytest.mark.parametrize("name", ["shrinkwise.records.reading", "shrinkwise.money.calendar_weeks"])
def test_docstring_examples(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(CHECKOUT)
    failed, tried = doctest.testmod(importlib.import_module(name))
    assert tried > 0
    assert failed == 0
