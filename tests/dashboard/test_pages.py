"""The pages as a script: each loads, says the finding in its title, and explains what is amiss."""

import logging
import re
from collections.abc import Callable, Iterable, Iterator
from datetime import date
from pathlib import Path
from typing import Any

import polars as pl
import pytest
from streamlit.testing.v1 import AppTest

from shrinkwise.dashboard.launch import RECORDS_VARIABLE
from shrinkwise.dashboard.parts import plain
from shrinkwise.money.review import review_week
from shrinkwise.records.reading import read_records
from shrinkwise.report.review_tables import NOT_LOGGED
from shrinkwise.report.words import LIMITS_TITLE, money_text

APP = Path(__file__).parents[2] / "app.py"
PAGES = APP.parent / "shrinkwise" / "dashboard" / "pages"
LONGEST = 90
"""Seconds that a page may take: the first one plans, the third plays every shelf life."""


@pytest.fixture(autouse=True)
def retired(caplog: pytest.LogCaptureFixture) -> Iterator[None]:
    """No test may pass while Streamlit warns of an argument that it is about to take away."""
    # Streamlit's loggers pass nothing on to the root, where pytest listens
    names = [name for name in logging.root.manager.loggerDict if name.startswith("streamlit")]
    for name in names:
        logging.getLogger(name).addHandler(caplog.handler)
    yield
    for name in names:
        logging.getLogger(name).removeHandler(caplog.handler)
    retiring = ("deprecat", "will be removed", "no longer supported", "instead of")
    # by now pytest is past the test itself, whose records are kept apart
    said = [record.getMessage() for record in caplog.get_records("call")]
    assert [text for text in said if any(word in text.lower() for word in retiring)] == []


@pytest.fixture
def small_store(small_folder: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv(RECORDS_VARIABLE, str(small_folder))
    return small_folder


def opened(page: str | None = None) -> AppTest:
    """The app, run once; on another page than the first where one is named."""
    app = AppTest.from_file(str(APP), default_timeout=LONGEST).run()
    if page is not None:
        app = app.switch_page(str(PAGES / f"{page}.py")).run()
    return app


def texts(elements: Iterable[Any]) -> list[str]:
    return [element.value for element in elements]


def downloads(app: AppTest) -> list[str]:
    buttons: Iterable[Any] = app.get("download_button")
    return [button.label for button in buttons]


@pytest.mark.parametrize(
    ("page", "title"),
    [
        (None, "2026-W40 cost USD "),
        ("bake_plan", "Save USD "),
        ("shelf_life", "One more day on shelf"),
        ("line_switch", "Before a line is switched"),
    ],
)
@pytest.mark.usefixtures("small_store")
def test_each_page_loads(page: str | None, title: str) -> None:
    app = opened(page)
    assert list(app.exception) == []
    assert list(app.error) == []
    assert len(app.title) == 1
    assert app.title[0].value.startswith(title)
    # no figure is more exact than it can be
    cells = [cell for table in app.dataframe for cell in table.value.to_numpy().ravel()]
    cells = [cell for cell in cells if isinstance(cell, str)]
    assert not [cell for cell in cells if re.search(r"\.\d{4}", cell)]


def test_the_first_page_says_what_the_week_cost(small_store: Path) -> None:
    records = read_records(small_store)
    review = review_week(records)
    app = opened()
    cost = money_text(review.total["loss"], "USD")
    assert app.title[0].value == f"{review.week} cost {cost}"
    figures = {metric.label: metric.value for metric in app.metric}
    assert figures["Labour hours"] == f"{review.total['labour_hours']:.1f}"
    assert figures["Sold out, line-days"] == f"{review.total['sold_out_days']:.0f}"
    assert any("were wanted and not there" in text for text in texts(app.markdown))
    assert any("who finds the shelf empty" in text for text in texts(app.caption))
    # every percentage and amount says what it is measured against or in
    assert all(", " in label or label == "Labour hours" for label in figures)
    earlier = review_week(records, "2026-W30")
    app.selectbox(key="week").select("2026-W30").run()
    assert list(app.exception) == []
    assert app.title[0].value == f"2026-W30 cost {money_text(earlier.total['loss'], 'USD')}"


def test_a_store_closed_on_sundays_sees_its_last_week_and_mondays_sheet(
    small_copy: Callable[[], Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = small_copy()
    for path in folder.glob("*.csv"):
        header, *rows = path.read_text(encoding="utf-8").splitlines()
        rows = [row for row in rows if date.fromisoformat(row[:10]).weekday() != 6]
        path.write_text("\n".join([header, *rows, ""]), encoding="utf-8")
    settings = (folder / "store.toml").read_text(encoding="utf-8")
    assert ', "sunday"]' in settings
    (folder / "store.toml").write_text(settings.replace(', "sunday"]', "]"), encoding="utf-8")
    monkeypatch.setenv(RECORDS_VARIABLE, str(folder))
    app = opened()
    assert list(app.exception) == []
    assert app.title[0].value.startswith("2026-W40 cost USD ")
    assert app.selectbox(key="week").options[:2] == ["2026-W40", "2026-W39"]
    assert "To pull and pan up for Monday 2026-10-05" in texts(app.subheader)
    said = [text.replace("\\", "") for text in texts(app.caption)]
    assert any(text.startswith("The store is closed on Sunday 2026-10-04") for text in said)
    assert "Stock at close of 2026-10-03, from the records." in said


def test_the_first_page_says_that_disposals_are_not_logged(
    small_copy: Callable[[], Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = small_copy()
    (folder / "disposals.csv").unlink()
    monkeypatch.setenv(RECORDS_VARIABLE, str(folder))
    app = opened()
    assert not app.exception
    assert any(
        text.startswith("Lost to markdown and labour; ") and text.endswith(plain(NOT_LOGGED))
        for text in texts(app.markdown)
    )


@pytest.mark.usefixtures("small_store")
def test_the_first_page_says_what_moves_the_demand() -> None:
    app = opened()
    labels = [box.label for box in app.expander]
    assert "What special days and prices do to the demand" in labels
    assert "How well demand is foreseen" in labels
    charts: Iterable[Any] = app.get("vega_lite_chart")
    titles = [chart.proto.alt for chart in charts]
    assert any("Within the 80% interval foreseen a week before" in title for title in titles)
    assert any("in each part" in title for title in titles)
    chosen = app.selectbox(key="effects_of")
    assert chosen.options == ["All lines", "Italian loaf", "Kaiser rolls", "Custard eclairs"]

    def shown() -> pl.DataFrame:
        (table,) = (t.value for t in app.dataframe if "Change of the demand [%]" in t.value)
        return pl.DataFrame({name: list(table[name]) for name in table})

    of_store = shown()
    chosen.select("Kaiser rolls").run()
    assert list(app.exception) == []
    of_line = shown()
    assert of_line.height == of_store.height
    assert not of_line.equals(of_store)
    prices = next(t.value for t in app.dataframe if "Elasticity" in t.value)
    assert "All lines" in list(prices.iloc[:, 0])


@pytest.mark.usefixtures("small_store")
def test_the_first_week_of_the_records_has_none_before_it() -> None:
    app = opened()
    weeks = app.selectbox(key="week").options
    app.selectbox(key="week").select(weeks[-1]).run()
    assert list(app.exception) == []
    assert any("no whole week before it" in text for text in texts(app.markdown))
    assert {metric.delta for metric in app.metric} == {""}


@pytest.mark.usefixtures("small_store")
def test_the_bake_plan_offers_its_files_and_cautions() -> None:
    app = opened("bake_plan")
    assert downloads(app) == [
        "bake_plan.csv",
        "recommendations.csv",
        "capacity.csv",
        "bake_plan.xlsx",
        "bake_plan.html",
        "plan.json",
    ]
    said = " ".join(texts(app.caption))
    assert "maker's date code" in said
    assert "gloves on" in said
    # the store says what its lines share
    assert LIMITS_TITLE in texts(app.subheader)


@pytest.mark.usefixtures("small_store")
def test_another_shelf_life_changes_the_curve_shown() -> None:
    app = opened("shelf_life")
    app.selectbox(key="life_line").select("Kaiser rolls").run()
    life = app.radio(key="life_of_Kaiser rolls")
    # one day less, the present, one and two more
    assert (life.options, life.value) == (["2", "3", "4", "5"], 3)
    life.set_value(4).run()
    assert list(app.exception) == []
    charts: Iterable[Any] = app.get("vega_lite_chart")
    (curve,) = (c.proto for c in charts if c.proto.alt.startswith("Kaiser rolls, 4 days: "))
    shown = pl.read_ipc_stream(curve.datasets[0].data.data)
    assert sorted(shown["day_on_shelf"].unique()) == [1, 2, 3, 4]


@pytest.mark.usefixtures("small_store")
def test_a_line_switch_gets_an_answer() -> None:
    app = opened("line_switch")
    assert list(app.header) == []
    app.selectbox(key="switch_line").select("Italian loaf").run()
    app.number_input(key="life_Italian loaf").set_value(3)
    app.number_input(key="dough_cost_Italian loaf").set_value(1.0)
    app.button[0].click().run()
    assert list(app.exception) == []
    assert list(app.error) == []
    (answer,) = texts(app.header)
    assert answer.startswith(
        ("The week comes out better by USD", "The week comes out worse by USD")
    )
    said = " ".join(texts(app.markdown))
    assert "In nine of ten futures" in said
    assert "allergens" in " ".join(texts(app.caption))
    assert "It pays up to a dough cost of" in said.replace("\\", "")
    assert "All at their worse ends together" in said
    assert downloads(app) == ["scenario.toml", "comparison.csv", "decision_sheets.html"]


@pytest.mark.usefixtures("small_store")
def test_nothing_changed_asks_for_a_change() -> None:
    app = opened("line_switch")
    app.button[0].click().run()
    assert texts(app.info) == ["Change a figure to see what a switch would do."]
    assert list(app.header) == []


@pytest.mark.usefixtures("small_store")
def test_an_impossible_switch_is_explained() -> None:
    # a filled line is held to seven days
    app = opened("line_switch")
    app.selectbox(key="switch_line").select("Custard eclairs").run()
    app.number_input(key="life_Custard eclairs").set_value(9)
    app.button[0].click().run()
    assert list(app.exception) == []
    (message,) = texts(app.error)
    assert "beyond the 7 days" in message


def test_without_a_folder_the_start_is_explained(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(RECORDS_VARIABLE, raising=False)
    app = opened()
    assert list(app.exception) == []
    (message,) = texts(app.error)
    assert "shrinkwise dashboard RECORDS" in message


@pytest.mark.parametrize("page", [None, "bake_plan", "shelf_life", "line_switch"])
def test_broken_records_are_explained_on_every_page(
    page: str | None, small_copy: Callable[[], Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = small_copy()
    for path in folder.glob("sales*"):
        path.unlink()
    monkeypatch.setenv(RECORDS_VARIABLE, str(folder))
    app = opened(page)
    assert list(app.exception) == []
    (message,) = texts(app.error)
    assert "no sales log" in message


def test_a_folder_that_went_away_is_explained(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(RECORDS_VARIABLE, str(tmp_path / "gone"))
    app = opened()
    assert list(app.exception) == []
    assert "is not there" in app.error[0].value


def test_new_logs_are_read_without_a_restart(
    small_copy: Callable[[], Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = small_copy()
    monkeypatch.setenv(RECORDS_VARIABLE, str(folder))
    app = opened()
    assert app.title[0].value.startswith("2026-W40 ")
    with (folder / "sales_2026.csv").open("a", encoding="utf-8") as file:
        file.writelines(f"2026-10-{day:02d},Italian loaf,9,31.41,no\n" for day in range(5, 12))
        file.write("2026-10-11,Moon cake,3,9.00,no\n")
    app.run()
    assert list(app.exception) == []
    assert "2026-W41" in app.selectbox(key="week").options
    # and what could not be used is said
    assert [box.label for box in app.expander if "set aside" in box.label] == [
        plain("The records want a look: 1 finding, 1 row set aside.")
    ]


def test_text_from_the_logs_is_no_markdown() -> None:
    assert plain("**Rye** [x](y) $1$ :red[a] <b>") == (
        r"\*\*Rye\*\* \[x\](y) \$1\$ \:red\[a\] \<b\>"
    )
    # what carries no meaning in Markdown is left as it is
    assert plain("Jo's rye, 4 für 5 %") == "Jo's rye, 4 für 5 %"


@pytest.mark.parametrize("page", [None, "bake_plan", "shelf_life", "line_switch"])
def test_lines_that_no_plan_can_help_are_shown_too(
    page: str | None, hopeless_folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nothing is baked under the plan and one line sells nothing, so shares have no base."""
    monkeypatch.setenv(RECORDS_VARIABLE, str(hopeless_folder))
    app = opened(page)
    assert list(app.exception) == []
    assert list(app.error) == []
    if page == "shelf_life":
        assert app.title[0].value == "What one more day on shelf is worth"
        assert "The best plan for that shelf life is not to bake the line." in texts(app.info)
        # and who has no history is named
        assert any(text.startswith("No study of Never sold") for text in texts(app.caption))
