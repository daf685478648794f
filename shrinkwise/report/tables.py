"""Results as tables: the columns of every file and of every table on screen."""

from datetime import timedelta

import numpy as np
import polars as pl

from shrinkwise.engine.simulate import NO_BAKE
from shrinkwise.money.calendar_weeks import week_name, week_of
from shrinkwise.money.ratios import share_pct, shrink_at_retail
from shrinkwise.money.review import WeekReview
from shrinkwise.planning.life_study import LifeStudy
from shrinkwise.planning.outcome import Outcome, standard_error
from shrinkwise.planning.plan import BakePlan, LinePlan
from shrinkwise.profile.store import WEEKDAYS
from shrinkwise.records.tables import Records
from shrinkwise.report.words import why
from shrinkwise.scenarios.compare import Comparison, StoreCase

METHOD = "top up to target"


def bake_plan_table(plan: BakePlan) -> pl.DataFrame:
    """One row per line and weekday: whether and up to what to bake.

    Columns: product, weekday, bake (yes/no), method, target_units, expected_batch_units [units],
    expected_pans, shelf_life_days.
    """
    rows = []
    for line_plan in plan.lines:
        line = line_plan.line
        for day, weekday in enumerate(WEEKDAYS):
            target = int(line_plan.targets[day])
            bake = target != NO_BAKE
            batch = float(line_plan.plan.batch_by_weekday[day])
            rows.append(
                {
                    "product": line.name,
                    "weekday": weekday,
                    "bake": "yes" if bake else "no",
                    "method": METHOD if bake else "",
                    "target_units": target if bake else None,
                    "expected_batch_units": batch,
                    "expected_pans": batch / line.units_per_pan,
                    "shelf_life_days": line.shelf_life_days,
                }
            )
    return pl.DataFrame(rows)


def recommendations_table(plan: BakePlan) -> pl.DataFrame:
    """One row per line: now against the plan on the same futures, and why.

    Units, hours and money are means per week; shrink is at retail, in percent of net sales;
    in-stock is the share of open days on which no shopper went without.
    """
    return pl.DataFrame([_recommendation(line, plan.store.currency) for line in plan.lines])


def _recommendation(plan: LinePlan, currency: str) -> dict[str, float | str]:
    now, then = _week(plan.now), _week(plan.plan)
    row: dict[str, float | str] = {"product": plan.line.name}
    for name, value in now.items():
        row[f"{name}_now"] = value
        row[f"{name}_plan"] = then[name]
    return row | {
        "saving_week": float(plan.saving.mean()),
        "saving_week_se": standard_error(plan.saving),
        "evidence": plan.evidence,
        "why": why(plan, currency),
    }


def _week(outcome: Outcome) -> dict[str, float]:
    money, quantities = outcome.money, outcome.quantities
    bakes = float(quantities.bakes.mean())
    shrink = share_pct(shrink_at_retail(money).mean(), money.net_sales.mean())
    return {
        "bakes_week": bakes,
        "batch_units": float(quantities.baked.mean()) / bakes if bakes else 0.0,
        "waste_units_week": float(quantities.disposed.mean()),
        "shrink_pct_sales": float(shrink),
        "in_stock_pct": float(outcome.in_stock_pct.mean()),
        "labour_hours_week": float(money.labour_hours.mean()),
        "loss_week": float(money.loss.mean()),
    }


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


def shelf_life_table(study: LifeStudy) -> pl.DataFrame:
    """One row per line and shelf life: its week under its best plan, and under the habit.

    The difference is to the present life under its own best plan, on the same futures.
    """
    rows = []
    for line_study in study.lines:
        present = line_study.option(line_study.line.shelf_life_days)
        assert present is not None
        for option in line_study.options:
            difference = option.best.money.loss - present.best.money.loss
            rows.append(
                {
                    "product": line_study.line.name,
                    "shelf_life_days": option.line.shelf_life_days,
                    "is_present": "yes" if option is present else "no",
                    "waste_units_week_habit": float(option.habit.quantities.disposed.mean()),
                    "loss_week_habit": float(option.habit.money.loss.mean()),
                }
                | {f"{name}_best": value for name, value in _week(option.best).items()}
                | {
                    "loss_week_difference": float(difference.mean()),
                    "loss_week_difference_se": standard_error(difference),
                }
            )
    return pl.DataFrame(rows)


def sell_through_table(study: LifeStudy) -> pl.DataFrame:
    """Sell-through by day on shelf of every line and shelf life, and what each row rests on.

    Cumulative percent of the units baked: sold_full_pct, sold_reduced_pct, disposed_pct.
    """
    parts = []
    for line_study in study.lines:
        for option in line_study.options:
            curve = option.curve()
            parts.append(
                _curve(
                    curve, line_study.line.name, option.line.shelf_life_days, "simulated, best plan"
                )
            )
        if not line_study.logged.is_empty():
            life = line_study.line.shelf_life_days
            parts.append(_curve(line_study.logged, line_study.line.name, life, "records"))
    return pl.concat(parts)


def _curve(curve: pl.DataFrame, product: str, life: int, basis: str) -> pl.DataFrame:
    return curve.select(
        pl.lit(product).alias("product"),
        pl.lit(life, pl.Int64).alias("shelf_life_days"),
        pl.lit(basis).alias("basis"),
        pl.all(),
    )


def review_table(review: WeekReview) -> pl.DataFrame:
    """One row per line of the week and its mean before, costliest first.

    Money is per week; shrink percentages are of the line's net sales.
    """
    before = review.lines_before.select(
        "product",
        before_loss="loss",
        before_disposed_units="disposed_units",
        before_shrink_at_retail="shrink_at_retail",
        before_net_sales="net_sales",
    )
    table = review.lines.join(before, on="product", how="left")
    return table.with_columns(
        shrink_at_retail_pct_sales=pl.Series(
            share_pct(table["shrink_at_retail"], table["net_sales"])
        ),
        shrink_at_cost_pct_sales=pl.Series(share_pct(table["shrink_at_cost"], table["net_sales"])),
        before_shrink_at_retail_pct_sales=pl.Series(
            share_pct(table["before_shrink_at_retail"], table["before_net_sales"])
        ),
    ).sort("loss", descending=True)


def store_table(plan: BakePlan) -> pl.DataFrame:
    """The store's week now and under the plan: measure, unit, now, plan.

    Labour includes the opening of baking days.
    """
    currency = plan.store.currency

    def of(pick: str) -> dict[tuple[str, str], float]:
        money = getattr(plan, pick)
        outcomes: list[Outcome] = [getattr(line, pick) for line in plan.lines]
        shrink = share_pct(shrink_at_retail(money).mean(), money.net_sales.mean())
        return {
            ("Loss", f"{currency} a week"): money.loss.mean(),
            ("Waste, dough and disposal", f"{currency} a week"): money.waste.mean(),
            ("Markdown", f"{currency} a week"): money.markdown.mean(),
            ("Labour", f"{currency} a week"): money.labour.mean(),
            ("Margin lost on missed sales", f"{currency} a week"): money.missed_margin.mean(),
            ("Shrink at retail", "% of net sales"): float(shrink),
            ("Units disposed of", "a week"): sum(o.quantities.disposed.mean() for o in outcomes),
            ("Labour hours", "a week"): money.labour_hours.mean(),
            ("In stock", "% of open days"): np.mean([o.in_stock_pct.mean() for o in outcomes]),
        }

    now, then = of("now"), of("plan")
    rows = [(*key, float(now[key]), float(then[key])) for key in now]
    return pl.DataFrame(rows, schema=["measure", "unit", "now", "plan"], orient="row")


def targets_table(plan: BakePlan) -> pl.DataFrame:
    """Top-up targets, a row per line and a column per weekday; empty where it is not baked."""
    rows = [
        {"product": line.line.name}
        | {
            weekday[:3].capitalize(): None if target == NO_BAKE else int(target)
            for weekday, target in zip(WEEKDAYS, line.targets, strict=True)
        }
        for line in plan.lines
    ]
    schema = {"product": pl.String} | {day[:3].capitalize(): pl.Int64 for day in WEEKDAYS}
    return pl.DataFrame(rows, schema=schema)


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


def review_totals_table(review: WeekReview) -> pl.DataFrame:
    """The store's week against the mean of the weeks before: measure, unit, week, before."""
    currency = review.store.currency
    week, before = review.total, review.total_before

    def pct(total: dict[str, float], name: str) -> float:
        return float(share_pct(total[name], total["net_sales"]))

    rows = [
        ("Net sales", currency, week["net_sales"], before["net_sales"]),
        ("Shrink at retail", currency, week["shrink_at_retail"], before["shrink_at_retail"]),
        (
            "Shrink at retail",
            "% of net sales",
            pct(week, "shrink_at_retail"),
            pct(before, "shrink_at_retail"),
        ),
        ("Shrink at cost", currency, week["shrink_at_cost"], before["shrink_at_cost"]),
        (
            "Shrink at cost",
            "% of net sales",
            pct(week, "shrink_at_cost"),
            pct(before, "shrink_at_cost"),
        ),
        ("Markdown", currency, week["markdown"], before["markdown"]),
        ("Disposed of", "units", week["disposed_units"], before["disposed_units"]),
        ("Labour", "hours", week["labour_hours"], before["labour_hours"]),
        ("Labour", currency, week["labour"], before["labour"]),
        ("Sold out", "line-days", week["sold_out_days"], before["sold_out_days"]),
        ("Loss: waste, markdown, labour", currency, week["loss"], before["loss"]),
    ]
    return pl.DataFrame(rows, schema=["measure", "unit", "week", "before"], orient="row")


def whole_weeks(records: Records) -> list[str]:
    """Names of the weeks that the records hold whole, the last first."""
    start = week_of(records.last_date + timedelta(days=1), records.profile.week_start)
    names = []
    while (start := start - timedelta(weeks=1)) >= records.first_date:
        names.append(week_name(start))
    return names


def comparison_measures(table: pl.DataFrame) -> pl.DataFrame:
    """A comparison of one scenario, a row per measure: now, scenario, difference, its error."""
    row = table.row(0, named=True)
    measures = [name.removesuffix("_now") for name in table.columns if name.endswith("_now")]
    columns = ("now", "scenario", "difference", "difference_se")
    rows = [(m.replace("_", " "), *(row[f"{m}_{column}"] for column in columns)) for m in measures]
    return pl.DataFrame(rows, schema=["measure", *columns], orient="row")
