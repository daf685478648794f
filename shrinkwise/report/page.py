"""The bake plan as one self-contained HTML page that prints on two sheets of paper."""

from html import escape

import polars as pl

from shrinkwise.planning.plan import BakePlan
from shrinkwise.planning.week import WeekPlan
from shrinkwise.report import charts, plan_tables
from shrinkwise.report.capacity_tables import limits_text, tight_limits_table
from shrinkwise.report.html import page, section, table_html
from shrinkwise.report.sheet_words import sheet_notes, sheet_title
from shrinkwise.report.target_tables import off_target_table
from shrinkwise.report.week_tables import differing_table, week_headline
from shrinkwise.report.words import (
    BY_HAND_TITLE,
    LIMITS_TITLE,
    TARGETS_TITLE,
    doubts,
    interval_text,
    save_title,
)
from shrinkwise.tonight.sheet import CAUTIONS, PanUpSheet


def plan_page(plan: BakePlan, sheet: PanUpSheet, week: WeekPlan | None = None) -> str:
    """The whole page as HTML; with a week, what is different in it comes after tonight's sheet."""
    store, currency = plan.store, plan.store.currency
    recommendations = plan_tables.recommendations_table(plan)
    sections = [
        f"<h1>{escape(store.name)}: bake plan from {plan.start}</h1>",
        f'<p class="lead"><b>{escape(save_title(plan))}</b>: expected against the present habit; '
        f"in nine of ten futures {escape(interval_text(plan.saving, currency))}.</p>",
        section("The store's week", table_html(plan_tables.store_table(plan))),
        section(sheet_title(sheet), _tonight(sheet, currency)),
        _week(week, currency),
        section(
            TARGETS_TITLE,
            table_html(plan_tables.targets_table(plan)),
        ),
        _by_hand(plan),
        _limits(plan),
        section(f"What to change, line by line [saving in {currency}]", _changes(recommendations)),
        section("", charts.svg(charts.now_against_plan(recommendations, currency))),
        section("", _options(plan)),
        section("", _off_target(plan)),
        section("What this rests on", _basis(plan)),
        f'<p class="note">shrinkwise {escape(plan.version)}, seed {plan.settings.seed}, '
        f"{plan.settings.judge_paths} futures of {plan.settings.weeks} weeks, records "
        f"{plan.fingerprint[:12]}</p>",
    ]
    return page(f"Bake plan from {plan.start}", sections)


def _tonight(sheet: PanUpSheet, currency: str) -> str:
    cautions = "".join(f'<p class="caution">{escape(caution)}</p>' for caution in CAUTIONS)
    if not sheet.is_open:
        return f"<p>The store is closed that day: nothing to pan up.</p>{cautions}"
    counted = f'<p class="note">{escape(sheet.basis)}</p>'
    notes = (f'<p class="note">{escape(note)}</p>' for note in sheet_notes(sheet, currency))
    return counted + table_html(sheet.shown) + "".join(notes) + cautions


def _by_hand(plan: BakePlan) -> str:
    table = plan_tables.by_hand_table(plan)
    if table.is_empty():
        return ""
    return section("", f"<details><summary>{BY_HAND_TITLE}</summary>{table_html(table)}</details>")


def _week(week: WeekPlan | None, currency: str) -> str:
    if week is None:
        return ""
    differing = differing_table(week)
    table = "" if differing.is_empty() else table_html(differing)
    return section(week_headline(week, currency), table)


def _changes(recommendations: pl.DataFrame) -> str:
    return table_html(
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
    return section(
        "", f"{note}<details><summary>{LIMITS_TITLE}</summary>{table_html(table)}</details>"
    )


def _options(plan: BakePlan) -> str:
    """Closed at first, and not printed: for whoever asks what else was looked at."""
    return (
        "<details><summary>The best rules that were found for each line "
        f"[{escape(plan.store.currency)} a week]</summary>"
        f"{table_html(plan_tables.options_table(plan))}</details>"
    )


def _off_target(plan: BakePlan) -> str:
    return (
        "<details><summary>What it costs when the target of one weekday is off "
        f"[{escape(plan.store.currency)} a week]</summary>"
        f"{table_html(off_target_table(plan))}</details>"
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
