"""What it costs when a target is off, as tables."""

import polars as pl

from shrinkwise.planning.plan import BakePlan
from shrinkwise.profile.weekdays import WEEKDAYS

OFF_BY = (-2, -1, 1, 2)
"""Steps of the curve that are shown side by side."""


def curve_table(plan: BakePlan) -> pl.DataFrame:
    """One row per line, weekday and move of its target, the others left as planned.

    Columns: product, weekday, target_units, moved_units [units], extra_loss_week and
    extra_loss_week_se [money per week].
    """
    rows = []
    for line in plan.lines:
        curve = line.curve
        for at, day in enumerate(curve.weekdays):
            for move, units in enumerate(curve.moved):
                rows.append(
                    {
                        "product": line.line.name,
                        "weekday": WEEKDAYS[day],
                        "target_units": int(line.rule.targets[day]),
                        "moved_units": int(units),
                        "extra_loss_week": float(curve.extra[at, move]),
                        "extra_loss_week_se": float(curve.extra_se[at, move]),
                    }
                )
    schema = {
        "product": pl.String,
        "weekday": pl.String,
        "target_units": pl.Int64,
        "moved_units": pl.Int64,
        "extra_loss_week": pl.Float64,
        "extra_loss_week_se": pl.Float64,
    }
    return pl.DataFrame(rows, schema=schema)


def off_target_table(plan: BakePlan) -> pl.DataFrame:
    """What a target that is off costs: a row per line and weekday, a column per step too few or
    too many [money per week]; step_units is the step [units]."""
    rows = []
    for line in plan.lines:
        curve = line.curve
        at = int((curve.moved == 0).argmax())
        for index, day in enumerate(curve.weekdays):
            row: dict[str, str | int | float] = {
                "product": line.line.name,
                "weekday": WEEKDAYS[day],
                "target_units": int(line.rule.targets[day]),
                "step_units": int(curve.moved[at + 1]),
            }
            for step in OFF_BY:
                steps = f"{abs(step)} {'step' if abs(step) == 1 else 'steps'}"
                name = f"{steps} {'fewer' if step < 0 else 'more'}"
                row[name] = float(curve.extra[index, at + step])
            rows.append(row)
    return pl.DataFrame(rows)
