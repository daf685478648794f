"""The printed plan: whole in one file, safe whatever a line is called, on two sheets of paper."""

import re
from dataclasses import replace
from html import escape
from html.parser import HTMLParser
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from shrinkwise.planning.plan import BakePlan
from shrinkwise.report.labels import label
from shrinkwise.report.page import plan_page
from shrinkwise.report.plan_tables import targets_table
from shrinkwise.report.words import interval_text, money_text, why
from shrinkwise.tonight.sheet import CAUTIONS, PanUpSheet

SVG_NAMES = {"http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink"}
"""Names of the drawing language; nothing is fetched from there."""

MOST_SHEETS = 2


class Reader(HTMLParser):
    """Tables as lists of cell texts, and the names of all elements."""

    def __init__(self) -> None:
        super().__init__()
        self.tables: list[list[list[str]]] = []
        self.elements: list[str] = []
        self.titles: list[str] = []
        self._inside = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append(tag)
        self._inside = tag
        if tag == "table":
            self.tables.append([])
        elif tag == "tr":
            self.tables[-1].append([])
        elif tag in ("td", "th"):
            self.tables[-1][-1].append("")

    def handle_data(self, data: str) -> None:
        if self._inside in ("td", "th"):
            self.tables[-1][-1][-1] += data
        elif self._inside == "h2":
            self.titles.append(data)

    def handle_endtag(self, tag: str) -> None:
        self._inside = ""


def read(html: str) -> Reader:
    reader = Reader()
    reader.feed(html)
    return reader


@pytest.fixture(scope="module")
def html(sample_plan: BakePlan, sample_sheet: PanUpSheet) -> str:
    return plan_page(sample_plan, sample_sheet)


def test_the_page_needs_nothing_from_elsewhere(html: str) -> None:
    addresses = set(re.findall(r"https?://[^\s\"'<>)]+", html))
    assert addresses <= SVG_NAMES
    assert not re.search(r"\b(src|href)\s*=|@import|url\(\s*[\"']?(?!#)", html)
    elements = set(read(html).elements)
    assert not elements & {"script", "link", "iframe", "img", "object", "embed", "form"}
    assert html.startswith("<!doctype html>")
    assert '<meta charset="utf-8">' in html
    assert '<html lang="en">' in html


def test_the_answer_stands_at_the_top(html: str, sample_plan: BakePlan) -> None:
    currency = sample_plan.store.currency
    saving = money_text(float(sample_plan.saving.mean()), currency)
    lead = html.index('class="lead"')
    assert lead < html.index("<table")
    assert f"<b>Save {saving} a week</b>" in html[lead : html.index("<table")]
    assert interval_text(sample_plan.saving, currency) in html


def test_targets_of_every_line_by_weekday(html: str, sample_plan: BakePlan) -> None:
    table = targets_table(sample_plan)
    shown = next(t for t in read(html).tables if t[0] == [label(name) for name in table.columns])
    assert len(shown) == 1 + len(sample_plan.lines)
    for cells, plan in zip(shown[1:], sample_plan.lines, strict=True):
        assert cells[0] == plan.line.name
        baked = [day for day, cell in enumerate(cells[1:8]) if cell != "–"]
        assert tuple(baked) == plan.rule.bake_days
        assert [int(cells[1 + day]) for day in baked] == plan.rule.targets[baked].tolist()


def test_cautions_stand_with_the_sheet(html: str) -> None:
    section = next(part for part in html.split("<section>") if "To pull and pan up" in part)
    for caution in CAUTIONS:
        assert escape(caution) in section


def test_a_closed_day_says_so_and_keeps_the_cautions(
    sample_plan: BakePlan, sample_sheet: PanUpSheet
) -> None:
    closed = replace(sample_sheet, is_open=False, batches=sample_sheet.batches.clear())
    section = next(
        part
        for part in plan_page(sample_plan, closed).split("<section>")
        if "To pull and pan up" in part
    )
    assert "closed that day" in section
    assert "<table" not in section
    assert escape(CAUTIONS[1]) in section


def test_what_to_change_comes_with_its_reason(html: str, sample_plan: BakePlan) -> None:
    changes = next(t for t in read(html).tables if t[0][-1] == "Why")
    reasons = {plan.line.name: why(plan, sample_plan.store.currency) for plan in sample_plan.lines}
    assert {cells[0]: cells[-1] for cells in changes[1:]} == reasons
    savings = [float(cells[1].replace(",", "")) for cells in changes[1:]]
    assert savings == sorted(savings, reverse=True)


def test_it_says_what_made_it(html: str, sample_plan: BakePlan) -> None:
    assert sample_plan.fingerprint[:12] in html
    assert f"seed {sample_plan.settings.seed}" in html
    assert f"shrinkwise {sample_plan.version}" in html
    for plan in sample_plan.lines:
        assert plan.evidence in html


def test_a_chart_with_a_text_in_its_place(html: str) -> None:
    chart = re.search(r'<svg role="img" aria-label="([^"]+)"', html)
    assert chart
    assert "has the most to gain" in chart[1]


def test_names_from_the_logs_cannot_become_elements(
    trap_plan: BakePlan, sample_sheet: PanUpSheet
) -> None:
    html = plan_page(trap_plan, sample_sheet)
    assert "<script" not in html
    assert "script" not in read(html).elements
    # it is shown as it stands, wherever a name is: heading, tables, left out
    assert "Store &lt;script&gt;" in html
    assert "No plan for Thin &lt;script&gt;" in html
    names = {row[0] for table in read(html).tables for row in table}
    assert "<script>alert('&')</script>" in names


def test_it_prints_on_two_sheets(html: str, chromium: Browser, tmp_path: Path) -> None:
    file = tmp_path / "bake_plan.html"
    file.write_text(html, encoding="utf-8")
    page = chromium.new_page()
    try:
        page.goto(file.as_uri())
        pdf = page.pdf(format="A4", print_background=True)
        # what is wider than the window would be cut off at the right
        width = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
    finally:
        page.close()
    sheets = len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf))
    assert 1 <= sheets <= MOST_SHEETS, f"{sheets} sheets"
    assert width <= 0
