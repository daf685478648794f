"""The week plan: one week as it will be, against the standing plan on the same futures."""

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from shrinkwise.demand.model import DemandModel
from shrinkwise.engine.policy import NO_BAKE, Days
from shrinkwise.errors import ShrinkwiseError
from shrinkwise.planning.dates import AS_STANDING, Week, best_targets, worth_it
from shrinkwise.planning.day_use import DayUse
from shrinkwise.planning.futures import Futures
from shrinkwise.planning.plan import BakePlan
from shrinkwise.planning.rule import Rule
from shrinkwise.planning.week import WeekPlan, coming_weeks, first_day, plan_week
from shrinkwise.planning.week_use import week_overruns
from shrinkwise.profile.capacity import Capacity
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Labour
from shrinkwise.records.tables import Records
from shrinkwise.report.week_tables import (
    differing_table,
    tight_dates,
    week_headline,
    week_table,
    why_differs,
)
from shrinkwise.shelf.model import ShelfModel

NO_LABOUR = Labour(
    wage_per_hour=0,
    minutes_per_bake=0,
    minutes_per_pan=0,
    minutes_per_unit=0,
    minutes_per_reduced_unit=0,
    minutes_per_disposed_unit=0,
    minutes_per_baking_day=0,
)
BUSY = 3
"""Date of the week on which three times as many come."""


def week_of(means: list[float], life: int, targets: list[int], n_paths: int, seed: int) -> Week:
    """A week of Poisson demand on a shelf that is empty before it, and two quiet weeks after it."""
    line = Line(
        name="Plait",
        category="breads",
        price=3,
        dough_cost=1,
        disposal_cost=0,
        shelf_life_days=life,
        filled=False,
    )
    rng = np.random.default_rng(seed)
    daily = np.array([*means, *([means[0]] * 14)])
    wanted = rng.poisson(daily[:, None], (21, n_paths)).astype(np.int16)
    streams = np.stack([wanted, np.zeros_like(wanted)])
    days = Days(np.arange(21) % 7, np.ones(21, bool))
    futures = Futures(streams, np.repeat(daily[:, None], n_paths, axis=1), days)
    rule = Rule(np.array(targets, np.int16))
    empty = np.zeros((life, n_paths), np.int16)
    return Week(line, NO_LABOUR, rule, futures, empty, np.ones(7, bool))


def demand_of(week: Week, date: int) -> NDArray[np.int64]:
    return week.futures.streams[:, date].sum(axis=0, dtype=np.int64)


def test_a_busy_date_gets_the_newsvendor_batch_of_its_own_demand() -> None:
    """With a life of one day: the smallest batch that covers 2/3 of the demand, 2 being the
    margin of a unit and 1 what it costs (Snyder & Shen, Fundamentals of Supply Chain Theory,
    2nd ed., Wiley 2019, section 4.3; the number from memory)."""
    means = [10.0] * 7
    means[BUSY] = 30.0
    usual = week_of(means, 1, [0] * 7, 2000, 1)
    best = [int(np.quantile(demand_of(usual, d), 2 / 3, method="inverted_cdf")) for d in range(7)]
    standing = [best[0]] * 7
    week = week_of(means, 1, standing, 2000, 1)
    found = worth_it(week_of(means, 1, standing, 2000, 2), best_targets(week))
    assert found[BUSY] == best[BUSY]
    assert (np.delete(found, BUSY) == AS_STANDING).all()


def test_a_busy_day_without_a_bake_is_baked_for_on_the_day_before() -> None:
    means = [10.0] * 7
    means[BUSY] = 30.0
    week = week_of(means, 3, [22] * 7, 500, 1)
    may_bake = np.ones(7, bool)
    may_bake[BUSY] = False
    shut = replace(week, may_bake=may_bake, rule=Rule(np.where(may_bake, 22, NO_BAKE)))
    found = best_targets(shut)
    assert found[BUSY] == AS_STANDING
    assert found[BUSY - 1] > 35


def test_a_target_that_costs_money_is_taken_out() -> None:
    week = week_of([10.0] * 7, 2, [16] * 7, 500, 1)
    row = np.array([AS_STANDING, 60, AS_STANDING, 0, AS_STANDING, NO_BAKE, 1], np.int16)
    assert (worth_it(week, row) == AS_STANDING).all()


def test_the_rule_holds_before_and_after_the_week_and_on_dates_without_a_target() -> None:
    week = week_of([10.0] * 7, 2, [16] * 7, 50, 1)
    days = replace(week.futures.days, first_day=7)
    later = replace(week, futures=replace(week.futures, days=days))
    row = np.array([AS_STANDING, 40, NO_BAKE, *([AS_STANDING] * 4)], np.int16)
    levels = later.policy([row]).levels[0, :, 0]
    expected = np.full(21, 16)
    expected[[8, 9]] = 40, NO_BAKE
    assert levels.tolist() == expected.tolist()


HOLIDAY_WEEK, CLOSED_WEEK = "2026-W41", "2026-W48"
"""A public holiday on Monday 12 October follows the first; Thursday of the second is closed."""


@pytest.fixture(scope="module")
def weeks(
    sample_records: Records,
    sample_demand: DemandModel,
    sample_shelf: ShelfModel,
    sample_plan: BakePlan,
) -> dict[str, WeekPlan]:
    return {
        name: plan_week(
            sample_records,
            sample_demand,
            sample_shelf,
            sample_plan,
            first_day(sample_records, name),
        )
        for name in (HOLIDAY_WEEK, CLOSED_WEEK, "2026-W52")
    }


@pytest.mark.parametrize("name", [HOLIDAY_WEEK, CLOSED_WEEK, "2026-W52"])
def test_the_week_plan_loses_less_than_the_standing_plan(
    weeks: dict[str, WeekPlan], name: str
) -> None:
    week = weeks[name]
    assert week.saving.mean() > 4 * week.saving_se
    assert week.saving.mean() > 10


def test_no_line_is_the_worse_for_it(weeks: dict[str, WeekPlan]) -> None:
    for week in weeks.values():
        for line in week.lines:
            differs = any(line.differs(day) for day in range(7))
            assert (line.saving.mean() > 0) == differs


def test_dates_on_which_not_all_may_fit_are_named(weeks: dict[str, WeekPlan]) -> None:
    """The Saturday after the closed 25 December takes more pans than the sample's oven."""
    week = weeks["2026-W52"]
    assert {day for day, _ in week.overruns} == {date(2026, 12, 26)}
    said = week_headline(week, "USD")
    assert "Not all of it may fit: " in said
    assert "pans where the oven takes 132 and " in said
    assert said.count("2026-12-26") == 1
    tight = tight_dates(week)
    assert tight["date"].unique().to_list() == [date(2026, 12, 26)]
    assert tight.filter(limit="oven")["capacity"].to_list() == [132.0]
    assert (tight["wanted"] > tight["capacity"]).all()
    assert weeks[HOLIDAY_WEEK].overruns == ()
    assert "fit" not in week_headline(weeks[HOLIDAY_WEEK], "USD")


def test_without_limits_all_of_a_week_fits(sample_records: Records) -> None:
    store, day = sample_records.profile, date(2026, 12, 26)
    use = [DayUse(np.full((1, 20), 90.0), np.full((1, 20), 6.0))] * 2
    found = week_overruns(store, [day], use)
    opening = store.labour.minutes_per_baking_day / 60
    assert [(one.limit.name, one.wanted) for _, one in found] == [
        ("oven", 180),
        ("proofer", 180),
        ("racks", 180),
        ("shift", pytest.approx(12 + opening)),
    ]
    free = store.model_copy(update={"capacity": None})
    assert week_overruns(free, [day], use) == ()
    closed = store.model_copy(update={"capacity": Capacity(staffed_hours=0)})
    nothing = [DayUse(np.zeros((1, 20)), np.zeros((1, 20)))]
    assert week_overruns(closed, [day], nothing) == ()


def test_nothing_is_baked_on_a_closed_day(weeks: dict[str, WeekPlan]) -> None:
    week = weeks[CLOSED_WEEK]
    assert week.is_open.tolist() == [True, True, True, False, True, True, True]
    assert all(line.batches[3] == 0 and not line.differs(3) for line in week.lines)
    table = week_table(week)
    assert set(table.filter(table["date"] == date(2026, 11, 26))["bake"]) == {"closed"}


def test_what_differs_is_marked_and_says_why(weeks: dict[str, WeekPlan]) -> None:
    week = weeks[CLOSED_WEEK]
    table, differing = week_table(week), differing_table(week)
    assert table.height == 7 * len(week.lines)
    assert differing.height == (table["differs"] == "yes").sum()
    assert all(differing["why"])
    assert set(table.filter(table["differs"] == "")["why"]) == {""}
    on_eve = differing.filter(differing["date"] == date(2026, 11, 25))
    assert not on_eve.is_empty()
    assert all("losed on Thu 26 Nov" in why for why in on_eve["why"])
    headline = week_headline(week, "USD")
    assert f"{differing.height} bakes" in headline
    assert "2026-11-23 to 2026-11-29" in headline


def test_a_promotion_is_named(weeks: dict[str, WeekPlan]) -> None:
    differing = differing_table(weeks[CLOSED_WEEK])
    rolls = differing.filter(differing["product"] == "Dinner rolls")
    assert any("romotion on Mon 23 Nov, Tue 24 Nov" in why for why in rolls["why"])


def test_the_same_records_give_the_same_week(
    sample_records: Records,
    sample_demand: DemandModel,
    sample_shelf: ShelfModel,
    sample_plan: BakePlan,
    weeks: dict[str, WeekPlan],
) -> None:
    first = first_day(sample_records, HOLIDAY_WEEK)
    again = plan_week(sample_records, sample_demand, sample_shelf, sample_plan, first)
    assert week_table(again).equals(week_table(weeks[HOLIDAY_WEEK]))


def test_a_week_that_cannot_be_planned_is_refused(sample_records: Records) -> None:
    for name in ("2026-W40", "2027-W20"):
        with pytest.raises(ShrinkwiseError, match="Name a week from 2026-W41 to 2027-W13"):
            first_day(sample_records, name)
    with pytest.raises(ShrinkwiseError, match="There is no week"):
        first_day(sample_records, "next week")


def test_coming_weeks_begin_after_the_records(sample_records: Records) -> None:
    first, second = coming_weeks(sample_records, 2)
    assert first == sample_records.last_date + timedelta(days=1)
    assert second - first == timedelta(weeks=1)


def replanned(records: Records, demand: DemandModel, shelf: ShelfModel, plan: BakePlan) -> WeekPlan:
    """The first coming week of two lines that need no count by age."""
    plain = [line for line in plan.lines if line.rule.batch_table is None]
    few = replace(plan, lines=tuple(plain[:2]))
    return plan_week(records, demand, shelf, few, coming_weeks(records, 1)[0])


def test_what_is_on_the_shelf_now_need_not_be_baked(
    sample_records: Records,
    sample_demand: DemandModel,
    sample_shelf: ShelfModel,
    sample_plan: BakePlan,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    as_it_is = replanned(sample_records, sample_demand, sample_shelf, sample_plan)
    told = ShelfModel.stock_by_age

    def fuller(self: ShelfModel, *args: Any) -> NDArray[np.int16]:
        stock = told(self, *args)
        stock[1] += 30
        return stock

    monkeypatch.setattr(ShelfModel, "stock_by_age", fuller)
    full = replanned(sample_records, sample_demand, sample_shelf, sample_plan)
    for before, after in zip(as_it_is.lines, full.lines, strict=True):
        assert after.standing_batches[:2].sum() < before.standing_batches[:2].sum() - 5


@pytest.mark.parametrize("pct", [0, 40])
def test_shoppers_still_to_come_today_are_taken_off_the_shelf(
    pct: float,
    sample_records: Records,
    sample_demand: DemandModel,
    sample_shelf: ShelfModel,
    sample_plan: BakePlan,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    profile = sample_records.profile.model_copy(update={"demand_after_count_pct": pct})
    seen = {}
    told = ShelfModel.stock_by_age

    def watched(
        self: ShelfModel, name: str, n: int, seed: int, late: NDArray[np.int64] | None = None
    ) -> NDArray[np.int16]:
        seen[name] = late
        return told(self, name, n, seed, late)

    monkeypatch.setattr(ShelfModel, "stock_by_age", watched)
    records = replace(sample_records, profile=profile)
    week = replanned(records, sample_demand, sample_shelf, sample_plan)
    for line in week.lines:
        late = seen[line.standing.line.name]
        if pct == 0:
            assert late is None
        else:
            assert late is not None
            name = line.standing.line.name
            whole = sample_demand.expected(name, [records.last_date])[0]
            assert late.mean() == pytest.approx(pct / 100 * whole, rel=0.15)


def test_the_reason_tells_how_far_demand_is_from_the_usual(weeks: dict[str, WeekPlan]) -> None:
    week = weeks[HOLIDAY_WEEK]
    line = week.lines[0]
    for factor, said in ((1.3, "30% more"), (0.8, "20% less")):
        moved = replace(line, demand=factor * line.usual_demand)
        assert f"{said} demand than usual" in why_differs(week, moved, 0)
    assert "demand" not in why_differs(week, replace(line, demand=line.usual_demand), 0)
