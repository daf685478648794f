"""Decision sheets: a page each, the words of the answer, and the charts behind it."""

import re
from dataclasses import replace
from io import BytesIO
from pathlib import Path

import fastexcel
import polars as pl
import pytest
from playwright.sync_api import Browser

from shrinkwise.demand.model import fit_demand
from shrinkwise.planning.settings import PlanSettings
from shrinkwise.profile.store import Labour
from shrinkwise.records.reading import read_records
from shrinkwise.report.comparison_files import comparison_contents
from shrinkwise.report.decision import decision
from shrinkwise.report.decision_page import decision_page
from shrinkwise.report.study_tables import break_even_table, map_table, swings_table
from shrinkwise.report.study_words import break_even_text, deciding_text
from shrinkwise.report.switch_charts import offer_map, swing_bars
from shrinkwise.scenarios.break_even import BreakEven
from shrinkwise.scenarios.changes import Change, Source, changed_lines
from shrinkwise.scenarios.common import CommonStudy
from shrinkwise.scenarios.compare import Comparison, compare_lines
from shrinkwise.scenarios.scenario import Scenario
from shrinkwise.scenarios.sensitivity import Swing
from shrinkwise.scenarios.study import Study, SwitchStudy, study_switches
from shrinkwise.shelf.model import fit_shelf

QUICK = PlanSettings(
    screen_paths=16, search_paths=32, judge_paths=64, weeks=6, finalists=2, leaders=1
)
SCRIPT = "<script>alert('&')</script>"
A4_INSIDE_MARGINS = (710, 1039)
"""Of A4 less margins of 11 mm, at 96 pixels an inch [pixels]."""

Studies = list[Study | None]


@pytest.fixture(scope="module")
def compared(small_folder: Path) -> tuple[Comparison, Studies]:
    """An offer with a trap for a name, one of all lines, and one that changes nothing."""
    records = read_records(small_folder)
    demand = fit_demand(records)
    shelf = fit_shelf(records, demand)
    store = records.profile

    def offer(name: str, cost: float = 0.0, **change: object) -> Scenario:
        block = Change.model_validate(change)
        return Scenario(name, *changed_lines([block], store, Source("test")), one_off_cost=cost)

    longer = offer(
        SCRIPT,
        80.0,
        line="Italian loaf",
        extra_days=1,
        extra_cost=0.05,
        demand_factor=0.98,
        demand_factor_sd=0.03,
    )
    dearer = replace(offer("All", all=True, extra_cost=0.02), labour=Labour(wage_per_hour=30.0))
    made = compare_lines(
        records, demand, shelf, [longer, dearer, Scenario("Nothing", {})], settings=QUICK
    )
    return made, study_switches(made)


@pytest.fixture(scope="module")
def study(compared: tuple[Comparison, Studies]) -> SwitchStudy:
    first, several, none = compared[1]
    assert isinstance(first, SwitchStudy)
    assert isinstance(several, CommonStudy)
    assert none is None
    return first


def test_every_sheet_fits_one_page_of_paper(
    compared: tuple[Comparison, Studies], chromium: Browser, tmp_path: Path
) -> None:
    path = tmp_path / "decision_sheets.html"
    path.write_text(decision_page(*compared), encoding="utf-8")
    width, height = A4_INSIDE_MARGINS
    tab = chromium.new_page(viewport={"width": width, "height": height})
    tab.emulate_media(media="print")
    tab.goto(path.as_uri())
    sheets = "[...document.querySelectorAll('article')].map(one => one.getBoundingClientRect()"
    heights = tab.evaluate(f"{sheets}.height)")
    assert len(heights) == 3
    assert max(heights) < height
    assert tab.evaluate("document.documentElement.scrollWidth") <= width
    pages = re.findall(rb"/Type\s*/Page[^s]", tab.pdf(format="A4", prefer_css_page_size=True))
    assert len(pages) == 3
    tab.close()


def test_the_page_says_what_is_to_be_decided(compared: tuple[Comparison, Studies]) -> None:
    html = decision_page(*compared)
    for heading in ("How sure", "Three figures behind it", "What would change it", "signature"):
        assert html.count(heading) == 3, heading
    # the first of the three has a study
    assert html.count("<svg") == 2
    assert html.count('role="img"') == 2
    # names are text, never markup
    assert SCRIPT not in html
    assert html.count("&lt;script&gt;") >= 2
    assert "http://" not in html.replace("http://www.w3.org", "")


def test_the_words_of_a_decision(compared: tuple[Comparison, Studies]) -> None:
    comparison, studies = compared
    first, all_lines, nothing = (
        decision(comparison, index, study) for index, study in enumerate(studies)
    )
    assert "shelf life days 3, now 2" in first.question
    assert "dough cost USD 1.00, now USD 0.95" in first.question
    assert "demand 98% of now, give or take 3" in first.question
    assert len(first.figures) == 3
    assert len(first.what_would_change_it) == 7
    assert any("one-off cost of USD 80" in sentence for sentence in first.how_sure)
    assert any("with its own demand" in sentence for sentence in first.how_sure)
    assert "allergens" in first.cautions[0]
    assert "maker's date code" in first.cautions[1]
    assert any(sentence.startswith("Staff time") for sentence in first.cautions)
    assert "wage USD 30 an hour" in all_lines.question
    # the eclairs are filled, and the cautions say so
    assert "Filled: Custard eclairs" in all_lines.cautions[1]
    assert all_lines.answer.startswith("No, stay")
    assert nothing.question == "Nothing: nothing changes."
    assert nothing.answer.startswith("It makes no difference.")


def test_files_hold_the_figures_of_the_study(
    compared: tuple[Comparison, Studies], study: SwitchStudy
) -> None:
    contents = comparison_contents(*compared)
    break_even = pl.read_csv(BytesIO(str(contents["break_even.csv"]).encode()))
    several = compared[1][1]
    assert isinstance(several, CommonStudy)
    common = break_even.filter(pl.col("scenario") == "All")
    assert common["term"].to_list() == [found.term for found in several.break_evens]
    break_even = break_even.filter(pl.col("scenario") != "All")
    terms = ["dough_cost", "price", "demand_factor", "extra_days", "fussy_pct"]
    assert break_even["term"].to_list() == terms
    assert break_even["until_day"].to_list() == [None, None, None, None, 2]
    for row, found in zip(break_even.iter_rows(named=True), study.break_evens, strict=True):
        assert row["break_even"] == pytest.approx(found.root, abs=1e-4)
    # an apostrophe would tell that the name began like a formula
    assert break_even["scenario"].to_list() == [SCRIPT] * 5
    book = fastexcel.read_excel(bytes(contents["decision_sheets.xlsx"]))  # type: ignore[arg-type]
    assert book.sheet_names == [
        "Decision 1",
        "Decision 2",
        "Decision 3",
        "Comparison",
        "Break-even",
        "Single weeks",
        "Worth of knowing",
        "Freezer",
    ]
    form = book.load_sheet("Decision 1", header_row=None).to_polars()
    said = decision(compared[0], 0, study)
    assert form.row(1) == ("Question", said.question)
    assert ("Answer", said.answer) in form.rows()
    # the same comparison gives the same bytes
    assert comparison_contents(*compared) == contents


def test_charts_of_a_study(study: SwitchStudy) -> None:
    bars = swing_bars(study, "USD")
    widest = study.swings[0]
    assert "moves the answer furthest" in str(bars.title.text)
    drawn = bars.layer[0].data
    assert drawn["at_low"][0] == pytest.approx(widest.at_low)
    assert drawn["at_high"][0] == pytest.approx(widest.at_high)
    places = bars.layer[1].data
    assert places["place"].to_list() == [0.0, pytest.approx(study.offer.brings.mean())]
    offers = offer_map(study, "USD")
    mark = offers.layer[2].data
    assert mark.row(0) == (1, 0.05, "the offer")
    cells = offers.layer[0].data
    for column in study.map:
        own = cells.filter(pl.col("extra_days") == column.extra_days).sort("from_cost")
        # the cells of a row are the whole row, cut where the switch stops paying
        assert own["from_cost"][0] == column.extra_cost[0]
        assert own["to_cost"][-1] == column.extra_cost[-1]
        for cell in own.iter_rows(named=True):
            middle = (cell["from_cost"] + cell["to_cost"]) / 2
            step = column.extra_cost[1] - column.extra_cost[0]
            near = [abs(cost - middle) for cost in column.extra_cost]
            brings = column.brings[near.index(min(near))]
            if cell["to_cost"] - cell["from_cost"] > 2 * step:
                assert (brings > 0) == (cell["answer"] == "pays")


def test_tables_of_a_study(study: SwitchStudy) -> None:
    named = [("Offer", study)]
    assert break_even_table(named).height == 5
    assert swings_table(named)["assumption"].to_list() == [one.assumption for one in study.swings]
    table = map_table(named)
    assert table.height == sum(len(column.brings) for column in study.map)
    assert break_even_table([]).columns == break_even_table(named).columns


@pytest.mark.parametrize(
    ("found", "said"),
    [
        (
            BreakEven("dough_cost", 1.12, 1.0727, 0.99, 1.1622, 0.0, 0.3),
            "It pays up to a dough cost of USD 1.073 (offered USD 1.120; in nine of ten futures "
            "USD 0.990 to USD 1.162).",
        ),
        (BreakEven("dough_cost", 1.12), "It pays at no dough cost (offered USD 1.120)."),
        (
            BreakEven("price", 3.5, 3.6, 3.4, None, 0.0, 0.1),
            "It pays from a price of USD 3.600 on (offered USD 3.500; in some futures not at all).",
        ),
        (
            BreakEven("demand_factor", 1.0, 0.984, 0.96, 1.01, 0.0, 0.1),
            "It pays from 98% of the present demand on (offered 100%; in nine of ten futures 96% "
            "to 101%).",
        ),
        (
            BreakEven("extra_days", 2.0, 1.0, 1.0, 1.0, 4.0, 0.1),
            "It pays from 1 day more of shelf life on (offered 2 days more).",
        ),
        (
            BreakEven("extra_days", -1.0, 0.0, -1.0, 1.0, 4.0, 0.1),
            "It pays from the present days of shelf life on (offered 1 day less; in nine of ten "
            "futures 1 day less to 1 day more).",
        ),
        (
            BreakEven("fussy_pct", 0.0, 41.3, 12.1, 62.9, 0.0, 0.3, until_day=2),
            "It pays unless more than 41 of 100 shoppers refuse it after day 2 on the shelf (in "
            "nine of ten futures 12 to 63).",
        ),
        (
            BreakEven("fussy_pct", 30.0, 41.3, None, 62.9, 0.0, 0.3, until_day=2),
            "It pays unless more than 41 of 100 shoppers refuse it after day 2 on the shelf "
            "(stated are 30; in some futures not at all).",
        ),
        (
            BreakEven("fussy_pct", 0.0, 100.0, 100.0, 100.0, 3.0, 0.3, until_day=2),
            "It pays even if every shopper refuses it after day 2 on the shelf (in nine of ten "
            "futures 100).",
        ),
        (
            BreakEven("fussy_pct", 0.0, None, None, 40.0, until_day=2),
            "It does not pay even if no shopper refuses it after day 2 on the shelf.",
        ),
    ],
)
def test_a_break_even_in_words(found: BreakEven, said: str) -> None:
    assert break_even_text(found, "USD") == said


def test_the_assumption_that_decides_goes_before_one_that_only_moves(study: SwitchStudy) -> None:
    brings = float(study.offer.brings.mean())
    sign = 1 if brings > 0 else -1
    wide = Swing("dough_cost", 0.9, 1.1, sign * 100.0, sign * 900.0)
    turning = Swing("wage_per_hour", 20.0, 30.0, -sign * 1.0, sign * 2.0)
    said = deciding_text(replace(study, swings=(wide, turning)), "USD")
    assert said.startswith("What decides the answer is the wage (USD 20.00 to USD 30.00)")
    said = deciding_text(replace(study, swings=(wide,)), "USD")
    assert said.startswith("No single assumption turns the answer")
    assert "dough cost (USD 0.90 to USD 1.10)" in said
