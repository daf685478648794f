"""Scenarios against today's lines as tables."""

import numpy as np
import polars as pl

from shrinkwise.planning.outcome import standard_error
from shrinkwise.report.labels import label
from shrinkwise.scenarios.compare import Comparison, StoreCase


def comparison_table(comparison: Comparison) -> pl.DataFrame:
    """One row per scenario: means per week now, in the scenario, their difference and its error.

    Measures in order: loss_week, waste_units_week, labour_hours_week, in_stock_pct (over lines
    and open days) and result_week. The loss leaves out what sold dough costs; where a change
    touches dough cost or price, the result is the measure to go by.
    """
    return pl.DataFrame(
        [_comparison_row(scenario, comparison.now) for scenario in comparison.scenarios]
    )


def _comparison_row(scenario: StoreCase, now: StoreCase) -> dict[str, float | str]:
    row: dict[str, float | str] = {"scenario": scenario.name}
    present, changed = _measures(now), _measures(scenario)
    for name in present:
        difference = changed[name] - present[name]
        row[f"{name}_now"] = float(present[name].mean())
        row[f"{name}_scenario"] = float(changed[name].mean())
        row[f"{name}_difference"] = float(difference.mean())
        row[f"{name}_difference_se"] = standard_error(difference)
    return row


def _measures(case: StoreCase) -> dict[str, np.ndarray]:
    return {
        "loss_week": case.money.loss,
        "waste_units_week": case.waste_units,
        "labour_hours_week": case.money.labour_hours,
        "in_stock_pct": case.in_stock_pct,
        "result_week": case.money.result,
    }


def result_parts_table(scenario: StoreCase, now: StoreCase) -> pl.DataFrame:
    """What changes the week's result in a scenario: part, difference [money per week].

    Above zero is to the store's good; the parts add up to the change of the result.
    """

    def part(name: str, sign: int) -> float:
        return sign * float((getattr(scenario.money, name) - getattr(now.money, name)).mean())

    disposal = part("waste", -1) - part("disposed_at_cost", -1)
    rows = [
        ("Sales", part("net_sales", 1)),
        ("Dough", part("dough", -1)),
        ("Disposal cost", disposal),
        ("Labour", part("labour", -1)),
    ]
    return pl.DataFrame(rows, schema=["part", "difference"], orient="row")


def comparison_measures(table: pl.DataFrame) -> pl.DataFrame:
    """A comparison of one scenario, a row per measure: now, scenario, difference, its error."""
    row = table.row(0, named=True)
    measures = [name.removesuffix("_now") for name in table.columns if name.endswith("_now")]
    columns = ("now", "scenario", "difference", "difference_se")
    rows = [(label(m), *(row[f"{m}_{column}"] for column in columns)) for m in measures]
    return pl.DataFrame(rows, schema=["measure", *columns], orient="row")
