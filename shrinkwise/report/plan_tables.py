"""The bake plan as tables."""

from collections.abc import Iterable

import numpy as np
import polars as pl

from shrinkwise.engine.policy import NO_BAKE
from shrinkwise.money.ratios import shrink_at_retail_pct_of_net_sales
from shrinkwise.planning.line_plan import LinePlan
from shrinkwise.planning.outcome import Outcome, standard_error
from shrinkwise.planning.plan import BakePlan
from shrinkwise.planning.rule import Rule
from shrinkwise.profile.store import Store
from shrinkwise.profile.weekdays import WEEKDAYS
from shrinkwise.report.words import days_text, method, why
from shrinkwise.shelf.freshness import Freshness


def bake_plan_table(plan: BakePlan) -> pl.DataFrame:
    """One row per line and weekday: whether and up to what to bake.

    Columns: product, weekday, bake (yes/no), method, target_units (of a set batch: its units),
    expected_batch_units [units], expected_pans, shelf_life_days, least_need_units, ceiling_units
    (most in one bake; empty without such a bound). The columns by_hand_... hold the same of the
    rule to go by where the evening's sheet is not at hand; empty where there is none.
    """
    rows = []
    for line_plan in plan.lines:
        line, rule = line_plan.line, line_plan.rule
        by_hand = line_plan.by_hand
        for day, weekday in enumerate(WEEKDAYS):
            target = _target(rule, day)
            bake = target is not None
            batch = float(line_plan.plan.batch_by_weekday[day])
            rows.append(
                {
                    "product": line.name,
                    "weekday": weekday,
                    "bake": "yes" if bake else "no",
                    "method": method(rule) if bake else "",
                    "target_units": target,
                    "expected_batch_units": batch,
                    "expected_pans": batch / line.units_per_pan,
                    "shelf_life_days": line.shelf_life_days,
                    "least_need_units": _least_need(rule) if bake else None,
                    "ceiling_units": rule.ceiling if bake else None,
                }
                | _by_hand(by_hand, day)
            )
    # a long run of lines without a bake must not decide what kind of column the targets are
    return pl.DataFrame(rows, infer_schema_length=None)


def _by_hand(rule: Rule | None, day: int) -> dict[str, object]:
    if rule is None or _target(rule, day) is None:
        said: tuple[object, ...] = ("", None, None, None)
    else:
        said = (method(rule), _target(rule, day), _least_need(rule), rule.ceiling)
    names = ("method", "target_units", "least_need_units", "ceiling_units")
    return {f"by_hand_{name}": value for name, value in zip(names, said, strict=True)}


def recommendations_table(plan: BakePlan) -> pl.DataFrame:
    """One row per line: now against the plan on the same futures, and why.

    Units, hours and money are means per week; shrink is at retail, in percent of net sales;
    in-stock is the share of open days on which no shopper went without. The last columns:
    by how much the expected loss lies above the least that any rule with nightly counts by age
    could reach [%], empty where that cannot be computed exactly; and what the count of the shelf
    saves against the best rule that counts less [money per week]; the mean days that a unit has
    left when it is bought [days].
    """
    rows = [_recommendation(line, plan.store) for line in plan.lines]
    return pl.DataFrame(rows).fill_nan(None)


def _recommendation(plan: LinePlan, store: Store) -> dict[str, float | str]:
    assumed = ", ".join(setting.split()[0] for setting in store.assumed)
    now, then = week_figures(plan.now), week_figures(plan.plan)
    row: dict[str, float | str] = {"product": plan.line.name}
    for name, value in now.items():
        row[f"{name}_now"] = value
        row[f"{name}_plan"] = then[name]
    return row | {
        "saving_week": float(plan.saving.mean()),
        "saving_week_se": standard_error(plan.saving),
        "evidence": f"{plan.evidence}; assumed: {assumed}" if assumed else plan.evidence,
        "why": why(plan, store.currency),
        "gap_to_optimum_pct": _number(plan.gap_to_optimum_pct),
        "value_of_counting_week": float(plan.value_of_counting.mean()),
        "days_left_now": Freshness.of(plan.now.flows.sold_by_age[0]).mean,
        "days_left_plan": Freshness.of(plan.plan.flows.sold_by_age[0]).mean,
    }


def _number(value: float | None) -> float:
    return float("nan") if value is None else value


def week_figures(outcome: Outcome) -> dict[str, float]:
    """Means per week of one line: bakes, batch, waste, shrink, in-stock, labour and loss."""
    money, quantities = outcome.money, outcome.quantities
    bakes = float(quantities.bakes.mean())
    return {
        "bakes_week": bakes,
        "batch_units": float(quantities.baked.mean()) / bakes if bakes else 0.0,
        "waste_units_week": float(quantities.disposed.mean()),
        "shrink_pct_sales": shrink_at_retail_pct_of_net_sales(money),
        "in_stock_pct": float(outcome.in_stock_pct.mean()),
        "labour_hours_week": float(money.labour_hours.mean()),
        "loss_week": float(money.loss.mean()),
    }


def options_table(plan: BakePlan) -> pl.DataFrame:
    """The best rules of every line, the lowest loss first.

    Columns: product, bake_days, planned (yes or empty), method, targets [units],
    least_need_units, ceiling_units, and per week bakes_week, loss_week, its difference to the
    lowest with standard error, waste_units_week, labour_hours_week; in_stock_pct [% of open days].
    """
    rows = []
    for line_plan in plan.lines:
        lowest = line_plan.options[0].outcome.money.loss
        for option in line_plan.options:
            difference = option.outcome.money.loss - lowest
            figures = week_figures(option.outcome)
            rows.append(
                {
                    "product": line_plan.line.name,
                    "bake_days": days_text(option.rule.bake_days),
                    "planned": "yes" if option.rule is line_plan.rule else "",
                    "method": method(option.rule),
                    "targets": " ".join(str(t) for t in option.rule.targets if t != NO_BAKE),
                    "least_need_units": _least_need(option.rule),
                    "ceiling_units": option.rule.ceiling,
                    "bakes_week": figures["bakes_week"],
                    "loss_week": figures["loss_week"],
                    "difference_week": float(difference.mean()),
                    "difference_week_se": standard_error(difference),
                    "waste_units_week": figures["waste_units_week"],
                    "labour_hours_week": figures["labour_hours_week"],
                    "in_stock_pct": figures["in_stock_pct"],
                }
            )
    return pl.DataFrame(rows, infer_schema_length=None).fill_nan(None)


def store_table(plan: BakePlan) -> pl.DataFrame:
    """The store's week now and under the plan: measure, unit, now, plan.

    Labour includes the opening of baking days.
    """
    currency = plan.store.currency

    def of(pick: str) -> dict[tuple[str, str], float]:
        money = getattr(plan, pick)
        outcomes: list[Outcome] = [getattr(line, pick) for line in plan.lines]
        return {
            ("Loss", f"{currency} a week"): money.loss.mean(),
            ("Waste, dough and disposal", f"{currency} a week"): money.waste.mean(),
            ("Markdown", f"{currency} a week"): money.markdown.mean(),
            ("Labour", f"{currency} a week"): money.labour.mean(),
            ("Margin lost on missed sales", f"{currency} a week"): money.missed_margin.mean(),
            ("Shrink at retail", "% of net sales"): shrink_at_retail_pct_of_net_sales(money),
            ("Units disposed of", "a week"): sum(o.quantities.disposed.mean() for o in outcomes),
            ("Labour hours", "a week"): money.labour_hours.mean(),
            ("In stock", "% of open days"): np.mean([o.in_stock_pct.mean() for o in outcomes]),
        }

    now, then = of("now"), of("plan")
    rows = [(*key, float(now[key]), float(then[key])) for key in now]
    columns = ["measure", "unit", "now", "plan"]
    return pl.DataFrame(rows, schema=columns, orient="row").fill_nan(None)


def _least_need(rule: Rule) -> int | None:
    """None where nothing is baked, or the batches stand in a table."""
    return rule.least_need if rule.bake_days and rule.batch_table is None else None


def _target(rule: Rule, day: int) -> int | None:
    """None on a weekday without a bake."""
    target = int(rule.targets[day])
    return None if target == NO_BAKE else target


def targets_table(plan: BakePlan) -> pl.DataFrame:
    """Top-up targets or set batches, a row per line and a column per weekday; empty where it is not
    baked; the least need and, where a line has one, the ceiling [units]; what is counted first."""
    return _targets((one.line.name, one.rule) for one in plan.lines)


def by_hand_table(plan: BakePlan) -> pl.DataFrame:
    """The same of what to go by where the evening's sheet is not at hand, of lines whose plan
    counts units by age, with what that costs more (extra_loss_week) [money per week]."""
    found = [(one, one.by_hand) for one in plan.lines if one.counts_by_age]
    told = [(one, rule) for one, rule in found if rule is not None]
    extra = [float(one.value_of_counting.mean()) for one, _ in told]
    table = _targets((one.line.name, rule) for one, rule in told)
    return table.with_columns(pl.Series("extra_loss_week", extra, pl.Float64))


def _targets(rules: Iterable[tuple[str, Rule]]) -> pl.DataFrame:
    rows = [
        {"product": name}
        | {weekday[:3].capitalize(): _target(rule, day) for day, weekday in enumerate(WEEKDAYS)}
        | {
            "least_need_units": _least_need(rule),
            "ceiling_units": rule.ceiling if rule.bake_days else None,
            "counts": rule.counts if rule.bake_days else "",
        }
        for name, rule in rules
    ]
    schema = {"product": pl.String} | {day[:3].capitalize(): pl.Int64 for day in WEEKDAYS}
    schema |= {"least_need_units": pl.Int64, "ceiling_units": pl.Int64, "counts": pl.String}
    table = pl.DataFrame(rows, schema=schema)
    return table.drop("ceiling_units") if table["ceiling_units"].is_null().all() else table
