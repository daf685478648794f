"""Results on the terminal."""

from typing import Any

import polars as pl
from rich.console import Console
from rich.markup import escape

from shrinkwise.demand.backtest import Backtest
from shrinkwise.money.review import WeekReview
from shrinkwise.money.unmet import ASSUMED, UnmetWeek
from shrinkwise.planning.past_weeks import PastWeeks
from shrinkwise.planning.plan import BakePlan
from shrinkwise.planning.week import WeekPlan
from shrinkwise.profile.store import Store
from shrinkwise.records.evidence import answers, evidence_table, sharpest_log
from shrinkwise.records.findings import by_rule
from shrinkwise.records.tables import Records
from shrinkwise.report import (
    backtest_tables,
    capacity_tables,
    comparison_tables,
    plan_tables,
    review_tables,
    unmet_tables,
)
from shrinkwise.report.sheet_words import sheet_notes, sheet_title
from shrinkwise.report.study_words import study_sentences
from shrinkwise.report.terminal_table import print_table
from shrinkwise.report.verdict import CHECK_LABELS, how_sure, notes, verdict
from shrinkwise.report.week_tables import differing_table, week_headline
from shrinkwise.report.words import (
    doubts,
    interval_text,
    money_text,
    same_weekday_text,
    save_sentence,
)
from shrinkwise.scenarios.compare import Comparison
from shrinkwise.scenarios.study import Study
from shrinkwise.tonight.sheet import CAUTIONS, PanUpSheet

_FEWEST_EXAMPLES = 3


def print_toml(console: Console, block: str) -> None:
    """Lines for store.toml, as they are to be pasted."""
    nothing = "# Nothing to suggest: everything was matched."
    console.print(block or nothing, markup=False, highlight=False)


def print_assumed(console: Console, store: Store) -> None:
    """The settings that still stand at their default, if any."""
    if store.assumed:
        console.print(f"Assumed, not set in store.toml: {', '.join(store.assumed)}.")


def print_check(console: Console, records: Records) -> None:
    """Findings by rule with examples, the rows of each file, and what the evidence allows."""
    print_findings(console, records.problems)
    title = "\nRows read = rows used + rows set aside + rows replaced"
    print_table(console, records.files, title)
    print_table(console, evidence_table(records), "\nEvidence: the day since when each log speaks")
    rows = [(a.question, a.how_well, a.because) for a in answers(records)]
    columns = ["question", "answered", "because"]
    print_table(console, pl.DataFrame(rows, schema=columns, orient="row"), "\nWhat can be answered")
    sharpest = sharpest_log(records)
    kept = "Nothing more: every log that the answers can use is kept."
    console.print(f"\nWhat would sharpen the answers most: {escape(sharpest or kept)}")


def print_backtest(console: Console, tested: Backtest, past: PastWeeks) -> None:
    """What the plan's batches would have saved; scores by line and by month, and their meaning."""
    answer, *how = backtest_tables.past_weeks_sentences(past)
    console.print(f"[bold]{escape(answer)}[/bold]")
    for sentence in how:
        console.print(sentence, markup=False)
    shown = backtest_tables.batches_table(past)[:, : backtest_tables.SHOWN]
    print_table(console, shown, "\nThe store's batches and the plan's, a mean week")
    console.print()
    title = f"Predicted a week ahead, {tested.first} to {tested.last}"
    print_table(console, tested.scores(), title, keys=2)
    console.print(f"\n{backtest_tables.SCORES_NOTE}")
    if tested.by_same_weekday:
        console.print(same_weekday_text(tested.by_same_weekday), markup=False)


def print_findings(console: Console, problems: pl.DataFrame) -> None:
    """Findings counted by rule, the worst first, and then the first few of each."""
    if problems.is_empty():
        console.print("No findings: every row is used.")
        return
    counts = by_rule(problems)
    print_table(console, counts.drop("findings"), "Findings by rule", keys=2)
    console.print()
    for group in counts.iter_rows(named=True):
        same = problems.filter(
            *(pl.col(c) == group[c] for c in ("severity", "file", "column", "rule"))
        )
        for finding in same.head(_FEWEST_EXAMPLES).iter_rows(named=True):
            console.print(_finding_text(finding), markup=False)


def _finding_text(finding: dict[str, Any]) -> str:
    row = f", row {finding['row']}" if finding["row"] is not None else ""
    cell = f"{finding['column']}: " if finding["column"] else ""
    value = f"{finding['value']!r} " if finding["value"] is not None else ""
    rows = f" ({finding['rows']} rows)" if finding["rows"] > 1 else ""
    words = f"{finding['rule']}{rows}. {finding['what_to_do']}"
    return f"{finding['severity']}: {finding['file']}{row}, {cell}{value}{words}"


def print_review(console: Console, review: WeekReview) -> None:
    """What the week cost, against the weeks before; the costliest lines first."""
    currency, week, before = review.store.currency, review.total, review.total_before
    weeks = f"mean of the {review.weeks_before} weeks before"
    console.print(
        f"[bold]{escape(review.store.name)}, week {review.week} (from {review.start}): "
        f"{money_text(week['loss'], currency)} lost to {review_tables.lost_to(review)}[/bold]; "
        f"{weeks}: {money_text(before['loss'], currency)}."
    )
    if not review.disposals_logged:
        console.print(review_tables.NOT_LOGGED)
    most = [
        f"{escape(line['product'])} {money_text(line['loss'], currency)}"
        for line in review.costliest().iter_rows(named=True)
    ]
    if most:
        lines = "three lines" if len(most) == 3 else "lines"
        console.print(f"The {lines} that cost most: {'; '.join(most)}.\n")
    print_table(console, review_tables.review_totals_table(review), keys=2)
    if review.disposals_logged:
        print_table(console, review.reasons, "\nDisposed of, by reason [units]")
    shown = review_tables.review_table(review).select(review_tables.SHOWN_BY_LINE)
    print_table(console, shown, f"\nBy line [{currency}, units, hours and days of the week]")


def print_missed_sales(console: Console, unmet: UnmetWeek, currency: str) -> None:
    """What the empty shelf of the week cost, which no log tells."""
    said = unmet_tables.missed_sales_text(unmet, currency)
    console.print(f"\n[bold]The empty shelf, not in the loss above[/bold]. {escape(said)}")
    if unmet.units.any():
        title = (
            f"\nWanted and not there: units, margin in {currency}; in brackets nine of ten cases"
        )
        print_table(console, unmet_tables.missed_sales_table(unmet), title)
        console.print(ASSUMED)
    if not_told := unmet_tables.not_told_text(unmet):
        console.print(escape(not_told))


def print_plan(
    console: Console, plan: BakePlan, sheet: PanUpSheet, week: WeekPlan | None = None
) -> None:
    """What the plan saves, tonight's sheet, what is different in the week, if one is given, and
    what to change line by line."""
    currency = plan.store.currency
    console.print(
        f"[bold]{escape(save_sentence(plan))}[/bold] "
        f"(in nine of ten futures {interval_text(plan.saving, currency)}; standard error "
        f"{plan.saving_se:.2f}).\n"
    )
    of_store = plan_tables.store_table(plan)
    print_table(console, of_store, f"The store's week from {plan.start}", keys=2)
    title = f"\n{sheet_title(sheet)}"
    if sheet.is_open:
        print_table(console, sheet.shown, title)
        for note in sheet_notes(sheet, currency):
            console.print(note, markup=False)
    else:
        console.print(f"{title}: closed, nothing to pan up.")
    for caution in CAUTIONS:
        console.print(f"! {caution}")
    if week is not None:
        console.print(f"\n[bold]{escape(week_headline(week, currency))}[/bold]")
        print_table(console, differing_table(week), keys=2)
    changes = plan_tables.recommendations_table(plan).sort("saving_week", descending=True)
    print_table(
        console,
        changes.select("product", "saving_week", "why"),
        f"\nWhat to change [saving in {currency}]",
    )
    if limits := capacity_tables.limits_text(plan):
        console.print(escape(limits))
    for doubt in doubts(plan):
        console.print(escape(doubt))
    print_assumed(console, plan.store)


def print_comparison(console: Console, comparison: Comparison, studies: list[Study | None]) -> None:
    """What each scenario changes, where it breaks even and what must be true."""
    for index, scenario in enumerate(comparison.scenarios):
        console.print(
            f"[bold]{escape(scenario.name)}. {escape(verdict(comparison, index))}[/bold]."
        )
        for sentence in [*how_sure(comparison, index), *notes(comparison, index)]:
            console.print(escape(sentence))
        for under_habit, under in comparison_tables.UNDER.items():
            shown = comparison_tables.comparison_measures(comparison, index, under_habit)
            print_table(console, shown, f"\nA week, {under}")
        console.print()
        for sentence in study_sentences(studies[index], comparison.store.currency):
            console.print(escape(sentence))
        console.print()
    console.print(f"! {CHECK_LABELS} {CAUTIONS[0]}")
    print_assumed(console, comparison.store)
