"""Scenarios against today's lines as tables."""

from collections.abc import Iterable
from typing import Any

import numpy as np
import polars as pl

from shrinkwise.demand.paths import INTERVAL
from shrinkwise.planning.outcome import Floats, Outcome, standard_error
from shrinkwise.report.labels import label
from shrinkwise.scenarios.compare import WEEKS_A_YEAR, Comparison
from shrinkwise.scenarios.payoff import Payoff
from shrinkwise.scenarios.store_case import StoreCase, StoreWeek

UNDER = {False: "each line under its own best plan", True: "under the present habit"}
"""How a plan is called, by whether it is the present habit."""

SHOWN = (
    "result_week",
    "loss_week",
    "waste_units_week",
    "waste_kg_week",
    "labour_hours_week",
    "bakes_week",
    "in_stock_pct",
    "days_left",
)
"""Measures that are shown where there is no room for all."""

COLUMNS = {
    "scenario": pl.String,
    "under": pl.String,
    "measure": pl.String,
    "now": pl.Float64,
    "switched": pl.Float64,
    "difference": pl.Float64,
    "difference_se": pl.Float64,
    "difference_low": pl.Float64,
    "difference_high": pl.Float64,
}

QUANTILES_PCT = (1, 5, 10, 25, 50, 75, 90, 95, 99)
"""Of the single weeks of all futures."""

WEEKLY_COLUMNS = {
    "scenario": pl.String,
    "under": pl.String,
    "quantile_pct": pl.Int64,
    "difference_week": pl.Float64,
}

NUMBERS = tuple(name for name, kind in COLUMNS.items() if kind == pl.Float64)
"""Columns of figures."""


def comparison_table(comparison: Comparison) -> pl.DataFrame:
    """One row per scenario, plan and measure: now, switched, their difference, its standard error
    and the interval in which it lies in nine of ten futures.

    Measures of a week: result_week and loss_week, the loss's parts waste_week, markdown_week,
    labour_week and missed_margin_week [money per week]; waste_units_week, and waste_kg_week
    where the weight of all lines is known; freezer_units_week of dough thrown from the freezer;
    labour_hours_week, bakes_week; in_stock_pct (over lines and open days); days_left at purchase,
    the day itself counted, of the lines that change, come and end [days]. Of a year of such weeks:
    result_year; first_year, which the one-off cost is taken off; one_off_cost; chance_pays_pct, of
    paying within the first year; payback_weeks, empty where never; bad_week, what single weeks
    bring at their 10% quantile [money per week]. The loss leaves out what sold dough costs and
    what a line brings that the store does not have: where a change touches dough cost or price,
    or a line comes or ends, the result is the measure to go by.
    """
    rows = []
    for index, scenario in enumerate(comparison.scenarios):
        for under_habit, under in UNDER.items():
            first = {"scenario": scenario.name, "under": under}
            rows += [first | row for row in _rows_of(comparison, index, under_habit)]
    return pl.DataFrame(rows, schema=COLUMNS)


def weekly_difference_table(comparison: Comparison) -> pl.DataFrame:
    """How single weeks come out: one row per scenario, plan and quantile over weeks and futures,
    with the week's result less that of the same week without the switch [money per week]; the
    row of 10% is the bad week in ten."""
    rows = []
    for index, scenario in enumerate(comparison.scenarios):
        for under_habit, under in UNDER.items():
            by_week = Payoff.of(comparison, index, under_habit).by_week
            found = np.quantile(by_week, np.array(QUANTILES_PCT) / 100)
            rows += [
                (scenario.name, under, pct, float(value))
                for pct, value in zip(QUANTILES_PCT, found, strict=True)
            ]
    return pl.DataFrame(rows, schema=WEEKLY_COLUMNS, orient="row")


def _rows_of(comparison: Comparison, index: int, under_habit: bool) -> list[dict[str, Any]]:
    now, then = comparison.now, comparison.scenarios[index]
    asked = comparison.asked[index]
    changed = {*asked.touched, *asked.ending} & {*now.lines, *then.lines} or set(now.lines)
    present, switched = (_measures(case, under_habit, changed) for case in (now, then))
    payoff = Payoff.of(comparison, index, under_habit)
    rows = [
        _compared(
            measure, present[measure], switched[measure], switched[measure] - present[measure]
        )
        for measure in present
        if measure in switched
    ]
    before, after = (WEEKS_A_YEAR * values["result_week"] for values in (present, switched))
    cost = payoff.one_off_cost
    rows.append(_compared("result_year", before, after, WEEKS_A_YEAR * payoff.week))
    rows.append(_compared("first_year", before, after - cost, payoff.first_year))
    weeks, soonest, latest = payoff.payback_weeks
    rows += [
        {"measure": "one_off_cost", "now": 0.0, "switched": cost, "difference": cost},
        {"measure": "chance_pays_pct", "difference": payoff.chance_pct},
        {
            "measure": "payback_weeks",
            "difference": weeks,
            "difference_low": soonest,
            "difference_high": latest,
        },
        {"measure": "bad_week", "difference": payoff.bad_week},
    ]
    return rows


def _compared(measure: str, now: Floats, switched: Floats, difference: Floats) -> dict[str, Any]:
    low, high = np.quantile(difference, INTERVAL)
    return {
        "measure": measure,
        "now": float(now.mean()),
        "switched": float(switched.mean()),
        "difference": float(difference.mean()),
        "difference_se": standard_error(difference),
        "difference_low": float(low),
        "difference_high": float(high),
    }


def _measures(case: StoreCase, under_habit: bool, changed: set[str]) -> dict[str, Floats]:
    week: StoreWeek = case.habit if under_habit else case.best
    lines = [case.lines[name] for name in case.lines if name in changed]
    sold = [(one.habit if under_habit else one.outcome, one.coded.shelf_life_days) for one in lines]
    weighed = {} if week.waste_kg is None else {"waste_kg_week": week.waste_kg}
    return {
        "result_week": week.money.result,
        "loss_week": week.money.loss,
        "waste_week": week.money.waste,
        "markdown_week": week.money.markdown,
        "labour_week": week.money.labour,
        "missed_margin_week": week.money.missed_margin,
        "waste_units_week": week.waste_units,
        **weighed,
        "freezer_units_week": week.freezer_units,
        "labour_hours_week": week.money.labour_hours,
        "bakes_week": week.bakes,
        "in_stock_pct": week.in_stock_pct,
        "days_left": days_left(sold),
    }


def days_left(sold: Iterable[tuple[Outcome, int]]) -> Floats:
    """Days that the code of a unit still has when it is bought, the day itself counted, as a mean
    over the units sold; 0 where none was; shape (n_paths,) [days].

    Parameters
    ----------
    sold : iterable of (Outcome, int)
        Lines, each with the days that its code allows.
    """
    days, units = 0.0, 0.0
    for outcome, life in sold:
        by_age = outcome.flows.sold_by_age[0]
        days = days + (life - np.arange(len(by_age))) @ by_age
        units = units + by_age.sum(axis=0)
    return np.asarray(days / np.maximum(units, 1))


def result_parts_table(scenario: StoreCase, now: StoreCase) -> pl.DataFrame:
    """What changes the week's result in a scenario, each line under its own best plan: part,
    difference [money per week].

    Above zero is to the store's good; the parts add up to the change of the result.
    """

    def part(name: str, sign: int) -> float:
        then, before = scenario.best.money, now.best.money
        return sign * float((getattr(then, name) - getattr(before, name)).mean())

    disposal = part("waste", -1) - part("disposed_at_cost", -1)
    rows = [
        ("Sales", part("net_sales", 1)),
        ("Dough", part("dough", -1)),
        ("Disposal cost", disposal),
        ("Labour", part("labour", -1)),
    ]
    return pl.DataFrame(rows, schema=["part", "difference"], orient="row")


def comparison_measures(comparison: Comparison, index: int, under_habit: bool) -> pl.DataFrame:
    """What is shown of one scenario under one plan: a row per measure, under its name."""
    rows = _rows_of(comparison, index, under_habit)
    shown = [row | {"measure": label(row["measure"])} for row in rows if row["measure"] in SHOWN]
    columns = {name: COLUMNS[name] for name in ("measure", *NUMBERS)}
    return pl.DataFrame(shown, schema=columns)
