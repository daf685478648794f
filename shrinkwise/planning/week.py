"""The week plan: one week as it will be, from the stock that is on the shelf before it."""

from dataclasses import dataclass, replace
from datetime import date, timedelta
from zlib import crc32

import numpy as np
from numpy.typing import NDArray

from shrinkwise.demand.calendar import Calendar
from shrinkwise.demand.model import DemandModel
from shrinkwise.errors import ShrinkwiseError
from shrinkwise.money.calendar_weeks import named_week, week_name, week_of
from shrinkwise.planning.dates import AS_STANDING, Week, best_targets, worth_it
from shrinkwise.planning.day_use import DayUse, Overrun, daily_use
from shrinkwise.planning.futures import line_futures
from shrinkwise.planning.line_plan import LinePlan
from shrinkwise.planning.outcome import Floats, Outcome, line_outcome, played, standard_error
from shrinkwise.planning.plan import BakePlan
from shrinkwise.planning.rule import Rule, Targets
from shrinkwise.planning.week_use import week_overruns
from shrinkwise.progress import Progress, no_progress, on_all_cores
from shrinkwise.records.tables import Records
from shrinkwise.shelf.model import ShelfModel

AFTER_DAYS = 14
"""Days after the week over which what is left of it is sold, under the standing plan [days]."""

FURTHEST_WEEKS = 26
"""Weeks ahead beyond which a week is better planned later [weeks]."""


@dataclass(frozen=True)
class LineWeek:
    """A line in the week.

    Attributes
    ----------
    standing : LinePlan
    targets : array of int16, shape (7,)
        Targets of the dates that differ from the standing plan [units]: NO_BAKE where it is not
        baked, AS_STANDING on the others.
    standing_batches, batches : array of float, shape (7,)
        Expected bake of each date under the standing plan and under this one [units].
    usual_demand, demand : array of float, shape (14,)
        Mean demand of the weekday over the standing plan's weeks, and of the date, a week more
        than is planned [units].
    as_standing, outcome : Outcome
        The week alone under both.
    use : DayUse
        Of each open date of the week, shape (n_open, n_paths) [pans], [hours].
    saving : array of float, shape (n_paths,)
        Loss under the standing plan less loss under this one, what is left at the week's end
        sold by the standing plan in both [money].
    """

    standing: LinePlan
    targets: Targets
    standing_batches: Floats
    batches: Floats
    usual_demand: Floats
    demand: Floats
    as_standing: Outcome
    outcome: Outcome
    use: DayUse
    saving: Floats

    def differs(self, day: int) -> bool:
        """Whether the bake of a day of the week, 0 to 6, is not as in the standing plan."""
        return bool(self.targets[day] != AS_STANDING)

    def rule(self, day: int, weekday: int) -> Rule:
        """The rule of a day of the week, 0 to 6, and its weekday."""
        rule = self.standing.rule
        if not self.differs(day):
            return rule
        targets = rule.targets.copy()
        targets[weekday] = self.targets[day]
        return replace(rule, targets=targets, ceiling=None, sold_by_night=None, batch_table=None)


@dataclass(frozen=True)
class WeekPlan:
    """One week of the store.

    Attributes
    ----------
    name : str
        Such as 2026-W49.
    dates : tuple of datetime.date
        Its seven days.
    is_open : array of bool, shape (7,)
    calendar : Calendar
    lines : tuple of LineWeek
    overruns : tuple of (datetime.date, Overrun)
        Limits that a busy day of these dates overruns: of ten futures one takes more.
    """

    name: str
    dates: tuple[date, ...]
    is_open: NDArray[np.bool_]
    calendar: Calendar
    lines: tuple[LineWeek, ...]
    overruns: tuple[tuple[date, Overrun], ...]

    @property
    def saving(self) -> Floats:
        """Loss of all lines under the standing plan less that under this one; (n_paths,)."""
        total: Floats = np.sum([line.saving for line in self.lines], axis=0)
        return total

    @property
    def saving_se(self) -> float:
        """Standard error of the mean saving [money]."""
        return standard_error(self.saving)


def plan_week(
    records: Records,
    demand: DemandModel,
    shelf: ShelfModel,
    plan: BakePlan,
    first: date,
    progress: Progress = no_progress,
) -> WeekPlan:
    """Plan one coming week, with its holidays, events and closed days.

    The shelf is followed from what is on it now, under the standing plan until the week begins.
    On each date the standing rule holds unless a target of its own saves money on futures that
    the search has not seen. What is left at the week's end is worth what the standing plan makes
    of it.

    Parameters
    ----------
    records, demand, shelf
    plan : BakePlan
        The standing plan, made from them.
    first : datetime.date
        First day of the week (see `first_day`).
    progress : callable, optional
        Called once for each line that is done.
    """
    start = records.last_date + timedelta(days=1)
    before = (first - start).days
    settings = plan.settings
    sizes = (settings.search_paths, settings.judge_paths)
    seeds = (2 * settings.seed, 2 * settings.seed + 1)
    drawn = [
        demand.paths(start, before + 7 + AFTER_DAYS, size, seed)
        for size, seed in zip(sizes, seeds, strict=True)
    ]
    is_open = drawn[0].is_open[before : before + 7]
    dates = tuple(first + timedelta(days=day) for day in range(7))
    store = records.profile

    after_count = store.demand_after_count_pct / 100

    def late(name: str, size: int, seed: int) -> NDArray[np.int64] | None:
        """Units still wanted on the day under way, if the records end in one."""
        if after_count == 0:
            return None
        wanted = demand.paths(records.last_date, 1, size, seed).units[name][0]
        rng = np.random.default_rng([seed, crc32(f"{name} still to come".encode())])
        return rng.binomial(wanted, after_count)

    def plan_line(standing: LinePlan) -> LineWeek:
        line = standing.line
        may_bake = is_open & np.isin([day.weekday() for day in dates], store.bake_weekdays(line))
        searched, judged = (
            Week(
                line,
                store.labour,
                standing.rule,
                line_futures(paths, shelf, line.name, before, seed, after_count),
                shelf.stock_by_age(line.name, size, seed, late(line.name, size, seed)),
                may_bake,
            )
            for paths, size, seed in zip(drawn, sizes, seeds, strict=True)
        )
        # a line that does not pay is not baked for a holiday either
        row = np.full(7, AS_STANDING, np.int16)
        if standing.rule.bake_days:
            row = worth_it(judged, best_targets(searched))
        return _line_week(standing, judged, row, demand, dates, plan)

    lines = tuple(on_all_cores(plan_line, plan.lines, progress))
    open_dates = [day for day, is_it in zip(dates, is_open, strict=True) if is_it]
    overruns = week_overruns(store, open_dates, [line.use for line in lines])
    return WeekPlan(week_name(first), dates, is_open, demand.calendar, lines, overruns)


def coming_weeks(records: Records, n: int) -> list[date]:
    """First days of the next `n` weeks that begin after the records."""
    start = records.last_date + timedelta(days=1)
    first = week_of(start + timedelta(days=6), records.profile.week_start)
    return [first + timedelta(weeks=week) for week in range(n)]


def first_day(records: Records, week: str) -> date:
    """First day of a coming week called `week`, such as 2026-W49.

    Raises
    ------
    ShrinkwiseError
        When there is no such week, or it begins before the records end or too far ahead.
    """
    first = named_week(week, records.profile.week_start)
    weeks = coming_weeks(records, FURTHEST_WEEKS)
    earliest, latest = weeks[0], weeks[-1]
    if not earliest <= first <= latest:
        raise ShrinkwiseError(
            f"{week_name(first)} begins on {first} and cannot be planned from records that end on "
            f"{records.last_date}. Name a week from {week_name(earliest)} to {week_name(latest)}."
        )
    return first


def _line_week(
    standing: LinePlan,
    judged: Week,
    row: Targets,
    demand: DemandModel,
    dates: tuple[date, ...],
    plan: BakePlan,
) -> LineWeek:
    as_standing = np.full(7, AS_STANDING, np.int16)
    losses = judged.weighed([as_standing, row]).losses * judged.futures.weeks
    first = judged.futures.days.first_day
    alone = replace(judged, futures=judged.futures.upto(first + 7))
    both = alone.policy([as_standing, row])
    flows = played(standing.line, alone.futures, both, alone.opening_by_age, by_day=True)
    batches = flows.batches[:, first:].mean(axis=2)
    outcomes = [
        line_outcome(
            standing.line, alone.labour, alone.futures, alone.policy([one]), alone.opening_by_age
        )
        for one in (as_standing, row)
    ]
    name = standing.line.name
    usual = [plan.start + timedelta(days=day) for day in range(7 * plan.settings.weeks)]
    by_day = demand.expected(name, usual).reshape(-1, 7)
    is_open = by_day > 0
    means = by_day.sum(axis=0) / np.maximum(is_open.sum(axis=0), 1)
    longer = [dates[0] + timedelta(days=day) for day in range(14)]
    usual_demand = means[[(day - plan.start).days % 7 for day in longer]]
    return LineWeek(
        standing=standing,
        targets=row,
        standing_batches=batches[0],
        batches=batches[1],
        usual_demand=usual_demand,
        demand=demand.expected(name, longer),
        as_standing=outcomes[0],
        outcome=outcomes[1],
        use=daily_use(flows, standing.line, alone.labour, alone.futures).of(1),
        saving=losses[0] - losses[1],
    )
