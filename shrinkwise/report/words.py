"""Figures said in a bakery lead's words."""

from collections.abc import Iterable, Sequence

import numpy as np
import polars as pl
from numpy.typing import ArrayLike

from shrinkwise.demand.paths import INTERVAL
from shrinkwise.demand.scoring import WEEKDAYS_BACK
from shrinkwise.money.week import Money, Quantities
from shrinkwise.planning.line_plan import WORTH_SAYING, LinePlan
from shrinkwise.planning.plan import BakePlan
from shrinkwise.planning.rule import Rule
from shrinkwise.profile.weekdays import WEEKDAYS
from shrinkwise.records.tables import Records
from shrinkwise.report.cells import number_text

LOSS_PARTS = {
    "waste": "waste",
    "markdown": "markdown",
    "labour": "labour",
    "missed_margin": "margin lost on missed sales",
}
"""Parts of a loss, and how they are called."""

TARGETS_TITLE = (
    "Top-up targets: where the least need is missing, bake enough to lift the stock to this many "
    "units; where nothing is counted, bake this many; with a count by age, this many on an empty "
    "shelf"
)

BY_HAND_TITLE = (
    "Without the evening's sheet: lines whose sheet counts by age, for a count of the shelf alone"
)

LIMITS_TITLE = (
    "What the bakes take of the oven, the racks and the shift; on a busy day, more than which is "
    "used on one day of ten"
)

_NEAR_THE_FLOOR = 0.5
"""Points by which the futures judged may fall short of a floor that the search kept."""


def money_text(amount: float, currency: str) -> str:
    """An amount to whole money, or to cents below 10: 'USD 1,204', 'USD 3.50'."""
    return f"{currency} {number_text(amount, ',.2f' if abs(amount) < 10 else ',.0f')}"


def interval_text(values: ArrayLike, currency: str) -> str:
    """The middle nine tenths of futures: 'USD 160 to USD 249'."""
    low, high = np.quantile(np.asarray(values), INTERVAL)
    return f"{money_text(low, currency)} to {money_text(high, currency)}"


def with_interval(table: pl.DataFrame, name: str, decimals: int) -> pl.DataFrame:
    """A table for reading, one figure of which stands with its interval, '61.2 (58.0 to 64.1)'.

    Parameters
    ----------
    table : polars.DataFrame
        With the column, and its ends, which are dropped, with `_low` and `_high` behind the name.
    name : str
    decimals : int
    """
    ends = [f"{name}_low", f"{name}_high"]
    how = f",.{decimals}f"
    said: list[str | None] = []
    for figure, low, high in table.select(name, *ends).iter_rows():
        text = None if figure is None else number_text(figure, how)
        if low is not None:
            text = f"{text} ({number_text(low, how)} to {number_text(high, how)})"
        said.append(text)
    return table.with_columns(pl.Series(name, said, pl.String)).drop(ends)


def days_text(weekdays: Iterable[int]) -> str:
    """Weekdays by their first three letters: 'Mon Wed Fri'; 'every day' for all seven."""
    days = sorted(set(weekdays))
    if len(days) == len(WEEKDAYS):
        return "every day"
    return " ".join(WEEKDAYS[day][:3].capitalize() for day in days) or "never"


def method(rule: Rule) -> str:
    """How a rule bakes: 'set batch', 'top up to target', and on what conditions."""
    if rule.counts == "nothing":
        return "set batch"
    if rule.batch_table is not None:
        return "by the units of each age; the target is the bake on an empty shelf"
    words = "top up to target"
    if rule.counts == "units by age":
        words += ", not counting units that will go out of date"
    return f"{words}, where the least need is missing" if rule.least_need > 1 else words


def count_text(n: int, thing: str) -> str:
    """'1 day', '2 days'."""
    return f"{n} {thing}" if n == 1 else f"{n} {thing}s"


def look_text(records: Records) -> str:
    """That the records have findings to be seen to, how many, and what could not be read."""
    findings = count_text(records.want_a_look.height, "finding")
    rows = count_text(int(records.files["rows_set_aside"].sum()), "row")
    text = f"The records want a look: {findings}, {rows} set aside."
    if records.not_read:
        text += f" Not read, and missing in every figure: {', '.join(records.not_read)}."
    return text


def save_title(plan: BakePlan) -> str:
    """What the plan saves, for a heading; what to do where it saves nothing."""
    if plan.keeps_habit:
        return "Bake as you do now"
    return f"Save {money_text(float(plan.saving.mean()), plan.store.currency)} a week"


def save_sentence(plan: BakePlan) -> str:
    """What the plan saves against the habit, without how sure that is and without a full stop."""
    if plan.keeps_habit:
        return "The plan is expected to save nothing against the present habit: bake as you do now"
    saving = money_text(float(plan.saving.mean()), plan.store.currency)
    return f"The plan is expected to save {saving} a week against the present habit"


def change(plan: LinePlan, currency: str) -> str:
    """What to do differently on a line, without its reasons and without a full stop."""
    saving = float(plan.saving.mean())
    if plan.for_store:
        money = money_text(abs(saving), currency)
        comes_to = f"saves {money}" if saving >= 0 else f"costs {money} more"
        return f"{_bake_days(plan)}, {_how_much(plan)}, for what all lines share: {comes_to} a week"
    if plan.keeps_habit:
        against = "saves only" if saving >= 0 else "costs more, by"
        return (
            f"Keep the present habit: the best standing plan that was found {against} "
            f"{money_text(abs(saving), currency)} a week"
        )
    if not plan.rule.bake_days:
        return (
            "Stop baking it: at this price, cost and demand that saves "
            f"{money_text(saving, currency)} a week"
        )
    roughly = "roughly, its bakes not being logged, " if plan.habit.inferred else ""
    saves = f"saves {roughly}{money_text(saving, currency)} a week"
    return f"{_bake_days(plan)}, {_how_much(plan)}: {saves}"


def why(plan: LinePlan, currency: str) -> str:
    """One sentence: what to change on a line, and where the money comes from."""
    parts = ", ".join(_parts(plan.now.money, plan.plan.money, currency))
    return f"{change(plan, currency)} ({parts})." if parts else f"{change(plan, currency)}."


def doubts(plan: BakePlan) -> list[str]:
    """What the plan could not know, a sentence each."""
    said = [f"No plan for {name}: {reason}." for name, reason in plan.left_out.items()]
    inferred = sum(line.habit.inferred for line in plan.lines)
    if inferred:
        said.append(
            f"The bakes of {count_text(inferred, 'line')} are not logged, so bakes, sold-out days "
            "and tonight's stock are inferred from what was sold and disposed of: count the shelf "
            "tonight. A bakes log would sharpen this plan most."
        )
    if plan.from_below:
        said.append(
            f"{', '.join(plan.from_below)} sold out on every day, so that the demand is only known "
            "to be at least what was sold, and every figure of it is a guess: raise the batches "
            "step by step until some is left at close, and plan again."
        )
    if plan.by_same_weekday:
        said.append(same_weekday_text(plan.by_same_weekday))
    for line in plan.lines:
        floor, reached = line.line.in_stock_floor_pct, float(line.plan.in_stock_pct.mean())
        if floor is not None and reached < floor - _NEAR_THE_FLOOR:
            said.append(
                f"{line.line.name} cannot be in stock on {floor:g}% of open days within its "
                f"batches and bake days: {reached:.1f}% is the most that was found."
            )
    for reason in sorted(set(plan.share_unknown.values())):
        names = [name for name, why_not in plan.share_unknown.items() if why_not == reason]
        said.append(
            f"Whether shoppers take the oldest or the freshest units of {', '.join(names)} cannot "
            f"be told, since {reason}; every share is held equally likely."
        )
    return said


def same_weekday_text(names: Sequence[str]) -> str:
    """Which lines are foreseen by their last days, and why."""
    return (
        f"{', '.join(names)}: the last {WEEKDAYS_BACK} days of each weekday have foreseen the "
        "past weeks better than the calendar and all that was learned of it, so that these days "
        "are taken for what is to come."
    )


def _bake_days(plan: LinePlan) -> str:
    present, planned = set(plan.habit.bake_days), set(plan.rule.bake_days)
    by_sheet = plan.rule.batch_table is not None
    if plan.rule.least_need > 1 or by_sheet:
        when = "the sheet asks for it"
        if not by_sheet:
            when = f"{plan.rule.least_need} or more units are missing"
        days = "on any day" if len(planned) == len(WEEKDAYS) else days_text(planned)
        now, then = (float(outcome.quantities.bakes.mean()) for outcome in (plan.now, plan.plan))
        return f"Bake {days} when {when}, {then:.1f} times a week where now {now:.1f}"
    if planned == present:
        return f"Keep baking {days_text(planned)}"
    return f"Bake {days_text(planned)}, not {days_text(present)}"


def _how_much(plan: LinePlan) -> str:
    rule = plan.rule
    if rule.counts == "nothing":
        return f"set batches of {_targets(plan)} units, no count needed"
    if rule.batch_table is not None:
        return (
            f"{_targets(plan)} units on an empty shelf, less by what is left of each day's bake, "
            f"{_batches(plan)}"
        )
    ceiling = "" if rule.ceiling is None else f", {rule.ceiling} at most"
    return f"topped up to {_targets(plan)} units{ceiling}, {_batches(plan)}"


def _targets(plan: LinePlan) -> str:
    targets = plan.rule.targets[list(plan.rule.bake_days)]
    low, high = int(targets.min()), int(targets.max())
    return f"{low}" if low == high else f"{low} to {high}"


def _batches(plan: LinePlan) -> str:
    now, then = (_batch(outcome.quantities) for outcome in (plan.now, plan.plan))
    return f"about {then} a bake as now" if now == then else f"about {then} a bake where now {now}"


def _batch(quantities: Quantities) -> str:
    bakes = float(quantities.bakes.mean())
    return f"{quantities.baked.mean() / bakes:.0f}" if bakes > 0 else "0"


def _parts(now: Money, then: Money, currency: str) -> list[str]:
    """What becomes less and what becomes more, the largest part first, small ones unsaid."""
    change = {part: float(np.mean(getattr(then, part) - getattr(now, part))) for part in LOSS_PARTS}
    return [
        f"{money_text(abs(amount), currency)} {'more' if amount > 0 else 'less'} {LOSS_PARTS[part]}"
        for part, amount in sorted(change.items(), key=lambda item: -abs(item[1]))
        if abs(amount) >= WORTH_SAYING
    ]
