"""What the plan uses of the oven, the racks and the shift, as tables and a sentence."""

from math import isfinite

import numpy as np
import polars as pl

from shrinkwise.planning.limit_use import LimitUse
from shrinkwise.planning.plan import BakePlan
from shrinkwise.profile.weekdays import WEEKDAYS
from shrinkwise.report.words import money_text

SCHEMA = {
    "weekday": pl.String,
    "limit": pl.String,
    "unit": pl.String,
    "used_mean": pl.Float64,
    "used_busy": pl.Float64,
    "capacity": pl.Float64,
    "slack": pl.Float64,
    "one_more": pl.Float64,
    "value_of_one_more_week": pl.Float64,
}

NO_LIMIT = (None,) * 5

_WORTH_SAYING = 0.005


def capacity_table(plan: BakePlan) -> pl.DataFrame:
    """What the plan uses by open weekday and limit; of what has no limit, a row without one.

    Columns: weekday, limit, unit ("pans" or "hours"), used_mean and used_busy (on one day of ten
    more is used), capacity, slack (of pans on a busy day, of hours on average), one_more (what one
    more of it is: an oven load in pans, a pan's place, an hour), value_of_one_more_week [money per
    week].
    """
    rows = []
    for day in plan.store.open_weekdays:
        for unit in ("pans", "hours"):
            used = [getattr(use, unit)[day] for use in (plan.shared.mean, plan.shared.busy)]
            limits = [use for use in plan.shared.limits if use.limit.unit == unit]
            bounds = [_bounds(use, day) for use in limits if isfinite(use.limit.most[day])]
            for name, *figures in bounds or [NO_LIMIT]:
                rows.append((WEEKDAYS[day], name, unit, *used, *figures))
    return pl.DataFrame(rows, schema=SCHEMA, orient="row")


def _bounds(use: LimitUse, day: int) -> tuple[str | float | None, ...]:
    limit = use.limit
    return limit.name, limit.most[day], float(use.slack[day]), limit.one_more, float(use.worth[day])


def tight_limits_table(plan: BakePlan) -> pl.DataFrame:
    """Of the limits that the store sets the weekdays on which one more would save, and of each
    limit the one on which the least is left; no rows where none is set."""
    table = capacity_table(plan).filter(pl.col("limit").is_not_null())
    least_left = pl.col("slack") == pl.col("slack").min().over("limit")
    saves = pl.col("value_of_one_more_week") >= _WORTH_SAYING
    return table.filter(saves | (least_left & (least_left.cum_sum().over("limit") == 1)))


def limits_text(plan: BakePlan) -> str | None:
    """What the limits cost and where one more is worth most; None where none of them binds."""
    cost, currency = plan.shared.cost_of_limits, plan.store.currency
    worth = [(float(use.worth.max()), use) for use in plan.shared.limits]
    most, use = max(worth, key=lambda one: one[0], default=(0.0, None))
    if cost < _WORTH_SAYING and most < _WORTH_SAYING:
        return None
    said = f"The limits of [capacity] cost {money_text(cost, currency)} a week"
    if use is None or most < _WORTH_SAYING:
        return f"{said}."
    one = {"oven": "oven load", "shift": "hour"}.get(
        use.limit.name, f"place in the {use.limit.name}"
    )
    day = WEEKDAYS[int(np.argmax(use.worth))].capitalize()
    return f"{said}; one more {one} on {day} would save {money_text(most, currency)}."
