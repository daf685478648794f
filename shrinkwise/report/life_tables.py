"""Shelf lives and sell-through as tables."""

import polars as pl

from shrinkwise.planning.life_study import LifeStudy
from shrinkwise.planning.life_worth import worth
from shrinkwise.profile.weekdays import WEEKDAYS
from shrinkwise.report.plan_tables import week_figures
from shrinkwise.report.words import with_interval
from shrinkwise.shelf.batches import BATCHES
from shrinkwise.shelf.sell_through import WAYS

FROM_LOGS = "logs"
UNDER_BEST, UNDER_HABIT = "model, best plan", "model, present habit"
"""What a sell-through curve rests on."""


def shelf_life_table(study: LifeStudy) -> pl.DataFrame:
    """One row per line and shelf life: its week under its best plan, and under the habit.

    The difference is to the present life under its own best plan, on the same futures; the extra
    dough cost is the most that a unit of that life may cost more and still pay. `day_saves_week`
    is the loss saved against a life of one day less, empty where that was not studied.
    """
    rows = []
    for line_study in study.lines:
        present = line_study.option(line_study.line.shelf_life_days)
        assert present is not None
        for option in line_study.options:
            against = worth([present.best], [option.best])
            low, high = against.interval
            shorter = line_study.option(option.line.shelf_life_days - 1)
            day = None if shorter is None else worth([shorter.best], [option.best])
            is_present = option is present
            rows.append(
                {
                    "product": line_study.line.name,
                    "shelf_life_days": option.line.shelf_life_days,
                    "is_present": "yes" if is_present else "no",
                    "waste_units_week_habit": float(option.habit.quantities.disposed.mean()),
                    "loss_week_habit": float(option.habit.money.loss.mean()),
                    "days_left_habit": option.freshness(option.habit).mean,
                    "days_left_best": option.freshness(option.best).mean,
                }
                | {f"{name}_best": value for name, value in week_figures(option.best).items()}
                | {
                    "loss_week_difference": 0.0 if is_present else -against.saving,
                    "loss_week_difference_se": against.saving_se,
                    "loss_week_difference_low": -high,
                    "loss_week_difference_high": -low,
                    "extra_dough_cost": None if is_present else against.dough,
                    "extra_dough_cost_se": None if is_present else against.dough_se,
                    "day_saves_week": None if day is None else day.saving,
                    "day_saves_week_se": None if day is None else day.saving_se,
                }
            )
    return pl.DataFrame(rows, infer_schema_length=None).fill_nan(None)


def sell_through_table(study: LifeStudy) -> pl.DataFrame:
    """Sell-through by day on shelf of every line and shelf life, and what each row rests on.

    Cumulative percent of the units baked: sold_full_pct, sold_reduced_pct, disposed_pct, each
    with `_low` and `_high`: a 90% interval from the logs, the middle nine tenths of the futures
    from the model. `batches_baked` is empty but for curves from the logs of one weekday's batches.
    """
    parts = []
    for line_study in study.lines:
        name, present = line_study.line.name, line_study.line.shelf_life_days
        for option in line_study.options:
            life = option.line.shelf_life_days
            if life == present and line_study.batches is not None:
                batches = line_study.batches
                parts.append(_curve(batches.sell_through, name, life, FROM_LOGS))
                for weekday, day in enumerate(WEEKDAYS):
                    curve = batches.by_weekday(weekday)
                    parts.append(_curve(curve, name, life, FROM_LOGS, day))
            parts.append(_curve(option.curve(option.best), name, life, UNDER_BEST))
            parts.append(_curve(option.curve(option.habit), name, life, UNDER_HABIT))
    return pl.concat(parts)


def _curve(
    curve: pl.DataFrame, product: str, life: int, basis: str, batches_baked: str = ""
) -> pl.DataFrame:
    return curve.select(
        pl.lit(product).alias("product"),
        pl.lit(life, pl.Int64).alias("shelf_life_days"),
        pl.lit(basis).alias("basis"),
        pl.lit(batches_baked).alias("batches_baked"),
        pl.all(),
    )


def sell_through_by_day(study: LifeStudy) -> pl.DataFrame:
    """Sell-through on one row per line, shelf life and basis: sold by the close of each day.

    Columns `by day 1`, `by day 2`, ...: sold at any price [% of units baked]; disposed_pct. From
    the logs and from the model under the best plan.
    """
    table = sell_through_table(study).filter(
        pl.col("batches_baked") == "", pl.col("basis") != UNDER_HABIT
    )
    table = table.with_columns(basis=pl.col("basis").str.split(",").list.first())
    keys = ["product", "shelf_life_days", "basis"]
    sold = table.with_columns(
        sold=pl.col("sold_full_pct") + pl.col("sold_reduced_pct"),
        day=pl.format("By day {}", pl.col("day_on_shelf")),
    ).pivot("day", index=keys, values="sold")
    thrown = table.group_by(keys, maintain_order=True).agg(
        disposed_pct=pl.col("disposed_pct").last(),
        disposed_interval=pl.format(
            "{}–{}",
            pl.col("disposed_pct_low").last().round(1),
            pl.col("disposed_pct_high").last().round(1),
        ),
    )
    return sold.join(thrown, on=keys, maintain_order="left")


def freshness_table(study: LifeStudy) -> pl.DataFrame:
    """Days left at purchase of every line and shelf life: mean, and share of the units sold.

    Columns: product, shelf_life_days, basis, mean_days_left, days_left, share_pct.
    """
    rows = []
    for line_study in study.lines:
        name, present = line_study.line.name, line_study.line.shelf_life_days
        for option in line_study.options:
            life = option.line.shelf_life_days
            known = [(UNDER_BEST, option.freshness(option.best))]
            known.append((UNDER_HABIT, option.freshness(option.habit)))
            if life == present and line_study.batches is not None:
                known.insert(0, (FROM_LOGS, line_study.batches.freshness))
            for basis, fresh in known:
                rows += [
                    (name, life, basis, fresh.mean, days_left, 100 * float(share))
                    for days_left, share in enumerate(fresh.share)
                ]
    columns = ("product", "shelf_life_days", "basis", "mean_days_left", "days_left", "share_pct")
    return pl.DataFrame(rows, schema=list(columns), orient="row").fill_nan(None)


def batches_table(study: LifeStudy) -> pl.DataFrame:
    """Every batch of the logs by day on shelf: see `shrinkwise.shelf.batches.LineBatches.table`.

    product stands before its columns; lines of which the logs do not tell are left out.
    """
    parts = [
        line.batches.table().select(pl.lit(line.line.name).alias("product"), pl.all())
        for line in study.lines
        if line.batches is not None
    ]
    return pl.concat([pl.DataFrame(schema={"product": pl.String, **BATCHES}), *parts])


def steps_shown(steps: pl.DataFrame) -> pl.DataFrame:
    """`LifeStudy.by_extra_days` for reading: the saving with its interval; standard errors stand in
    the sentence below it."""
    return with_interval(steps.drop("saving_week_se", "extra_dough_cost_se"), "saving_week", 0)


def with_intervals(curve: pl.DataFrame) -> pl.DataFrame:
    """A sell-through curve for reading: '61.2 (58.0 to 64.1)' for each way, by day on shelf."""
    for way in WAYS:
        curve = with_interval(curve, f"{way}_pct", 1)
    return curve.select("day_on_shelf", *(f"{way}_pct" for way in WAYS))
