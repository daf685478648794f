"""Frozen dough by the case: how fast an order is used up, and what outlives its days frozen."""

from typing import Any

import polars as pl

from shrinkwise.planning.outcome import Outcome
from shrinkwise.profile.line import Line
from shrinkwise.report.words import count_text, money_text
from shrinkwise.scenarios.compare import Comparison

COLUMNS = {
    "scenario": pl.String,
    "product": pl.String,
    "case_units": pl.Float64,
    "min_order_cases": pl.Int64,
    "freezer_weeks": pl.Float64,
    "cases_week": pl.Float64,
    "order_weeks": pl.Float64,
    "freezer_units_week": pl.Float64,
    "freezer_cost_week": pl.Float64,
}

_WORTH_SAYING = 0.05
"""[units per week]"""


def freezer_table(comparison: Comparison) -> pl.DataFrame:
    """A row per line with a known case, today ("now") and in each scenario that touches it, each
    under its own best plan: cases_week; order_weeks that the smallest order lasts, against the
    freezer_weeks that it keeps; and the dough thrown from the freezer: freezer_units_week and
    freezer_cost_week, its dough and disposal cost [money per week]. Empty where it never is, or
    is not known."""
    rows = [_row("now", case.line, case.outcome) for case in comparison.now.lines.values()]
    for asked, then in zip(comparison.asked, comparison.scenarios, strict=True):
        touched = [then.lines[name] for name in asked.touched if name in then.lines]
        rows += [_row(then.name, case.line, case.outcome) for case in touched]
    known = [row for row in rows if row["case_units"] is not None]
    return pl.DataFrame(known, schema=COLUMNS)


def _row(scenario: str, line: Line, outcome: Outcome) -> dict[str, Any]:
    pace = float(outcome.quantities.baked.mean())
    thrown = float(outcome.quantities.freezer_disposed.mean())
    case, order = line.case_units, line.order_units
    return {
        "scenario": scenario,
        "product": line.name,
        "case_units": case,
        "min_order_cases": line.min_order_cases,
        "freezer_weeks": line.freezer_weeks,
        "cases_week": None if case is None else (pace + thrown) / case,
        "order_weeks": None if order is None or pace == 0 else order / pace,
        "freezer_units_week": thrown,
        "freezer_cost_week": thrown * (line.dough_cost + line.disposal_cost),
    }


def freezer_notes(comparison: Comparison, index: int) -> list[str]:
    """A sentence for each changed or new line that is too slow for its case."""
    currency, lines = comparison.store.currency, comparison.scenarios[index].lines
    said = []
    for name in comparison.asked[index].touched:
        if name not in lines:
            continue
        line, row = lines[name].line, _row("", lines[name].line, lines[name].outcome)
        units, cost, weeks = row["freezer_units_week"], row["freezer_cost_week"], row["order_weeks"]
        if units < _WORTH_SAYING:
            continue
        order = "a case" if line.min_order_cases == 1 else count_text(line.min_order_cases, "case")
        said.append(
            f"{name} is too slow for its case: {order} of {line.case_units:g} units lasts "
            f"{weeks:.1f} weeks and keeps {line.freezer_weeks:g} in the freezer, so that "
            f"{units:.1f} units a week are thrown from it ({money_text(cost, currency)})."
        )
    return said
