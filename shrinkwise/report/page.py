"""The bake plan as one self-contained HTML page that prints on two sheets of paper."""

from collections.abc import Iterable
from html import escape

import polars as pl

from shrinkwise.planning.plan import BakePlan
from shrinkwise.planning.week import WeekPlan
from shrinkwise.report import charts, plan_tables
from shrinkwise.report.capacity_tables import limits_text, tight_limits_table
from shrinkwise.report.labels import label
from shrinkwise.report.target_tables import off_target_table
from shrinkwise.report.week_tables import differing_table, week_headline
from shrinkwise.report.words import LIMITS_TITLE, TARGETS_TITLE, doubts, interval_text, money_text
from shrinkwise.tonight.sheet import CAUTIONS, PanUpSheet

_STYLE = """
body{font:14px/1.4 system-ui,sans-serif;color:#22262b;max-width:60rem;margin:1.5rem auto;
  padding:0 1rem}
h1{font-size:1.5rem;margin:0}
h2{font-size:1.1rem;margin:1.4rem 0 .3rem}
.lead{font-size:1.25rem;margin:.3rem 0 .2rem}
.note{color:#5c5850;margin:.2rem 0}
table{border-collapse:collapse;width:100%}
td,th{padding:.15rem .45rem;border-bottom:1px solid #ddd6c8;text-align:right;vertical-align:top}
th{background:#f3eee4;font-weight:600}
td:first-child,th:first-child,td.text,th.text{text-align:left}
.caution{border-left:4px solid #a63d2f;padding:.1rem .6rem;margin:.3rem 0}
svg{max-width:100%;height:auto}
tr,svg,.caution{break-inside:avoid}
h2{break-after:avoid}
td:first-child{white-space:nowrap}
summary{cursor:pointer;margin:1rem 0 .3rem}
details{overflow-x:auto;font-size:12px}
details td{white-space:nowrap}
@media print{
  details{display:none}
  body{font-size:9.5px;margin:0;max-width:none;padding:0}
  h1{font-size:15px}h2{font-size:12px;margin:.5rem 0 .2rem}.lead{font-size:13px}
  td,th{padding:.03rem .3rem}svg{max-height:7cm}
  @page{margin:11mm}
}
"""


def plan_page(plan: BakePlan, sheet: PanUpSheet, week: WeekPlan | None = None) -> str:
    """The whole page as HTML; with a week, what is different in it comes after tonight's sheet."""
    store, currency = plan.store, plan.store.currency
    saving = float(plan.saving.mean())
    recommendations = plan_tables.recommendations_table(plan)
    sections = [
        f"<h1>{escape(store.name)}: bake plan from {plan.start}</h1>",
        f'<p class="lead">Expected to save <b>{escape(money_text(saving, currency))} a week</b> '
        f"against the present habit; in nine of ten futures "
        f"{escape(interval_text(plan.saving, currency))}.</p>",
        _section("The store's week", _table(plan_tables.store_table(plan))),
        _section(_tonight_title(sheet), _tonight(sheet)),
        _week(week, currency),
        _section(
            TARGETS_TITLE,
            _table(plan_tables.targets_table(plan)),
        ),
        _limits(plan),
        _section(f"What to change, line by line [saving in {currency}]", _changes(recommendations)),
        _section("", charts.svg(charts.now_against_plan(recommendations, currency))),
        _section("", _options(plan)),
        _section("", _off_target(plan)),
        _section("What this rests on", _basis(plan)),
        f'<p class="note">shrinkwise {escape(plan.version)}, seed {plan.settings.seed}, '
        f"{plan.settings.judge_paths} futures of {plan.settings.weeks} weeks, records "
        f"{plan.fingerprint[:12]}</p>",
    ]
    title = f"Bake plan from {plan.start}"
    return (
        f'<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><title>{title}</title>'
        f"<style>{_STYLE}</style></head><body>\n{''.join(sections)}\n</body></html>\n"
    )


def _section(title: str, content: str) -> str:
    heading = f"<h2>{escape(title)}</h2>" if title else ""
    return f"<section>{heading}{content}</section>\n"


def _tonight_title(sheet: PanUpSheet) -> str:
    return f"To pull and pan up for {sheet.bake_date:%A} {sheet.bake_date}"


def _tonight(sheet: PanUpSheet) -> str:
    cautions = "".join(f'<p class="caution">{escape(caution)}</p>' for caution in CAUTIONS)
    if not sheet.is_open:
        return f"<p>The store is closed that day: nothing to pan up.</p>{cautions}"
    counted = f'<p class="note">{escape(sheet.basis)}</p>'
    return counted + _table(sheet.shown) + cautions


def _week(week: WeekPlan | None, currency: str) -> str:
    if week is None:
        return ""
    differing = differing_table(week)
    table = "" if differing.is_empty() else _table(differing)
    return _section(week_headline(week, currency), table)


def _changes(recommendations: pl.DataFrame) -> str:
    return _table(
        recommendations.sort("saving_week", descending=True).select(
            "product", "saving_week", "saving_week_se", "why"
        )
    )


def _limits(plan: BakePlan) -> str:
    table = tight_limits_table(plan)
    if table.is_empty():
        return ""
    said = limits_text(plan)
    note = f'<p class="note">{escape(said)}</p>' if said else ""
    # beside the sentence it is for whoever asks, and not printed
    return _section(
        "", f"{note}<details><summary>{LIMITS_TITLE}</summary>{_table(table)}</details>"
    )


def _options(plan: BakePlan) -> str:
    """Closed at first, and not printed: for whoever asks what else was looked at."""
    return (
        "<details><summary>The best rules that were found for each line "
        f"[{escape(plan.store.currency)} a week]</summary>"
        f"{_table(plan_tables.options_table(plan))}</details>"
    )


def _off_target(plan: BakePlan) -> str:
    return (
        "<details><summary>What it costs when the target of one weekday is off "
        f"[{escape(plan.store.currency)} a week]</summary>"
        f"{_table(off_target_table(plan))}</details>"
    )


def _basis(plan: BakePlan) -> str:
    evidence = sorted({line.evidence for line in plan.lines})
    notes: list[str] = [f"Logs: {text}." for text in evidence]
    if plan.store.assumed:
        notes.append(f"Assumed, not set in store.toml: {', '.join(plan.store.assumed)}.")
    notes += doubts(plan)
    notes.append(
        "Loss = waste + markdown + labour + margin lost on missed sales. The standard error is "
        "that of the simulated difference; the range of futures also holds what the records "
        "leave open."
    )
    return "".join(f'<p class="note">{escape(note)}</p>' for note in notes)


def _table(table: pl.DataFrame) -> str:
    texts = {name for name, kind in table.schema.items() if kind == pl.String}
    return (
        f"<table><tr>{_row('th', ((n, label(n)) for n in table.columns), texts)}</tr>"
        + "".join(
            f"<tr>{_row('td', zip(table.columns, map(_cell, row), strict=True), texts)}</tr>"
            for row in table.iter_rows()
        )
        + "</table>"
    )


def _row(tag: str, cells: Iterable[tuple[str, str]], texts: set[str]) -> str:
    return "".join(
        f"<{tag}{' class=text' if name in texts else ''}>{escape(cell)}</{tag}>"
        for name, cell in cells
    )


def _cell(value: object) -> str:
    if value is None:
        return "–"
    return f"{value:,.2f}" if isinstance(value, float) else str(value)
