"""The week plan as tables, with what is different on a date and why."""

from datetime import date, timedelta

import polars as pl

from shrinkwise.engine.policy import NO_BAKE
from shrinkwise.planning.day_use import Overrun
from shrinkwise.planning.week import LineWeek, WeekPlan
from shrinkwise.profile.weekdays import WEEKDAYS
from shrinkwise.report.sheet_words import overruns_text
from shrinkwise.report.words import method, money_text

_WORTH_SAYING = 0.05
"""Change in demand that is named as a reason, as a share of the usual."""

SCHEMA = {
    "product": pl.String,
    "date": pl.Date,
    "weekday": pl.String,
    "bake": pl.String,
    "method": pl.String,
    "target_units": pl.Int64,
    "expected_batch_units": pl.Float64,
    "expected_pans": pl.Float64,
    "standing_batch_units": pl.Float64,
    "differs": pl.String,
    "why": pl.String,
}


def week_table(week: WeekPlan) -> pl.DataFrame:
    """One row per line and date of the week.

    Columns: product, date, weekday, bake (yes, no or closed), method, target_units (of a set
    batch: its units), expected_batch_units and expected_pans, standing_batch_units (expected
    under the standing plan), differs (yes, or empty where the standing plan holds), why.
    """
    rows = []
    for line_week in week.lines:
        line = line_week.standing.line
        for day, on in enumerate(week.dates):
            weekday, is_open = on.weekday(), bool(week.is_open[day])
            rule = line_week.rule(day, weekday)
            target = int(rule.targets[weekday])
            bakes = is_open and target != NO_BAKE
            batch = float(line_week.batches[day])
            rows.append(
                {
                    "product": line.name,
                    "date": on,
                    "weekday": WEEKDAYS[weekday],
                    "bake": ("yes" if bakes else "no") if is_open else "closed",
                    "method": method(rule) if bakes else "",
                    "target_units": target if bakes else None,
                    "expected_batch_units": batch,
                    "expected_pans": batch / line.units_per_pan,
                    "standing_batch_units": float(line_week.standing_batches[day]),
                    "differs": "yes" if line_week.differs(day) else "",
                    "why": why_differs(week, line_week, day) if line_week.differs(day) else "",
                }
            )
    return pl.DataFrame(rows, schema=SCHEMA)


def differing_table(week: WeekPlan) -> pl.DataFrame:
    """The dates that differ from the standing plan: date, product, target_units,
    expected_batch_units, standing_batch_units, why."""
    columns = ["date", "product", "target_units"]
    columns += ["expected_batch_units", "standing_batch_units", "why"]
    differing = week_table(week).filter(pl.col("differs") == "yes")
    return differing.select(columns).sort("date", maintain_order=True)


def tight_dates(week: WeekPlan) -> pl.DataFrame:
    """Limits that the bakes of a date may overrun: date, limit, unit ("pans" or "hours"), wanted
    and capacity in it (pans as on a busy day, hours as on average)."""
    rows = [
        (day, over.limit.name, over.limit.unit, over.wanted, over.most)
        for day, over in week.overruns
    ]
    schema = {
        "date": pl.Date,
        "limit": pl.String,
        "unit": pl.String,
        "wanted": pl.Float64,
        "capacity": pl.Float64,
    }
    return pl.DataFrame(rows, schema, orient="row")


def week_headline(week: WeekPlan, currency: str) -> str:
    """What the week plan saves, and on which dates its bakes may not all fit."""
    count = sum(line.differs(day) for line in week.lines for day in range(7))
    said = f"In {week.name} the standing plan holds on every day."
    if count:
        said = (
            f"In {week.name} ({week.dates[0]} to {week.dates[-1]}), {count} bakes that differ from "
            f"the standing plan are expected to save {money_text(week.saving.mean(), currency)} "
            f"(standard error {week.saving_se:.2f})."
        )
    if week.overruns:
        by_date: dict[date, list[Overrun]] = {}
        for day, overrun in week.overruns:
            by_date.setdefault(day, []).append(overrun)
        tight = "; ".join(f"{overruns_text(of)} on {day:%A} {day}" for day, of in by_date.items())
        said += f" Not all of it may fit: {tight}. The evening's sheet is cut to what does."
    return said


def why_differs(week: WeekPlan, line: LineWeek, day: int) -> str:
    """Why a date's bake is not the standing plan's: what is special while it lasts, and how the
    demand until the next bake differs from the usual."""
    name, life = line.standing.line.name, line.standing.line.shelf_life_days
    reasons = []
    for what, days in _special(week, name, day, day + life).items():
        reasons.append(f"{what} on {', '.join(f'{on:%a} {on.day} {on:%b}' for on in days)}")
    until = next((k for k in range(day + 1, 7) if line.batches[k] >= 1), 7)
    covered = slice(day, min(until, day + life))
    usual = float(line.usual_demand[covered].sum())
    change = float(line.demand[covered].sum()) / usual - 1 if usual > 0 else 0.0
    if abs(change) >= _WORTH_SAYING:
        more = "more" if change > 0 else "less"
        reasons.append(f"{round(100 * abs(change))}% {more} demand than usual")
    if not reasons:
        at_once = week.dates[0] == week.calendar.origin + timedelta(days=1) and day < life
        reasons.append("the stock on the shelf now" if at_once else "the bakes around it")
    text = "; ".join(reasons)
    return text[:1].upper() + text[1:]


def _special(week: WeekPlan, line: str, first: int, last: int) -> dict[str, list[date]]:
    """Closed days, holidays, promotions and events of a line from one day of the week to another.

    The last one is looked at too, since a holiday is felt on the day before it.
    """
    calendar = week.calendar
    found: dict[str, list[date]] = {}
    for day in range(first, last + 1):
        on = week.dates[0] + timedelta(days=day)
        kinds = {
            "closed": on in calendar.closed,
            "public holiday": on in calendar.holidays and on not in calendar.closed,
            "promotion": (line, on) in calendar.promotions,
            "event": bool({(None, on), (line, on)} & calendar.events),
        }
        for kind in (kind for kind, is_so in kinds.items() if is_so):
            found.setdefault(kind, []).append(on)
    return found
