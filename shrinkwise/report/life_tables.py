"""Shelf lives and sell-through as tables."""

import polars as pl

from shrinkwise.planning.life_study import LifeStudy
from shrinkwise.planning.outcome import standard_error
from shrinkwise.report.plan_tables import week_figures


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
                | {f"{name}_best": value for name, value in week_figures(option.best).items()}
                | {
                    "loss_week_difference": float(difference.mean()),
                    "loss_week_difference_se": standard_error(difference),
                }
            )
    return pl.DataFrame(rows).fill_nan(None)


def sell_through_table(study: LifeStudy) -> pl.DataFrame:
    """Sell-through by day on shelf of every line and shelf life, and what each row rests on.

    Cumulative percent of the units baked: sold_full_pct, sold_reduced_pct, disposed_pct.
    """
    parts = []
    for line_study in study.lines:
        for option in line_study.options:
            curve = option.curve()
            parts.append(
                _curve(curve, line_study.line.name, option.line.shelf_life_days, "simulated")
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


def sell_through_by_day(study: LifeStudy) -> pl.DataFrame:
    """Sell-through on one row per line, shelf life and basis: sold by the close of each day.

    Columns `by day 1`, `by day 2`, ...: sold at any price [% of units baked]; disposed_pct.
    """
    table = sell_through_table(study)
    keys = ["product", "shelf_life_days", "basis"]
    sold = table.with_columns(
        sold=pl.col("sold_full_pct") + pl.col("sold_reduced_pct"),
        day=pl.format("By day {}", pl.col("day_on_shelf")),
    ).pivot("day", index=keys, values="sold")
    thrown = table.group_by(keys, maintain_order=True).agg(pl.col("disposed_pct").last())
    return sold.join(thrown, on=keys, maintain_order="left")
