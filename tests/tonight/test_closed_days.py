"""The sheet of a store that is closed on the day after the records is for its next open day."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from shrinkwise.demand.model import DemandModel
from shrinkwise.engine.policy import NO_BAKE, Days, Policy, Shelf
from shrinkwise.engine.simulate import simulate
from shrinkwise.planning.plan import BakePlan
from shrinkwise.planning.rule import Rule
from shrinkwise.planning.week import plan_week
from shrinkwise.profile.capacity import Capacity
from shrinkwise.records.tables import Records
from shrinkwise.records.today import Today
from shrinkwise.report.page import plan_page
from shrinkwise.report.plan_files import plan_document
from shrinkwise.report.sheet_words import sheet_notes, sheet_title
from shrinkwise.shelf.model import ShelfModel
from shrinkwise.tonight.sheet import SCHEMA, pan_up_sheet

SUNDAY, MONDAY = date(2026, 10, 4), date(2026, 10, 5)


def closed_on(demand: DemandModel, days: Iterable[date]) -> DemandModel:
    calendar = demand.calendar
    return replace(demand, calendar=replace(calendar, closed=calendar.closed | {*days}))


def days_from(first: date, n_days: int) -> list[date]:
    return [first + timedelta(days=day) for day in range(n_days)]


def one_line(plan: BakePlan, stock_by_age: list[int], rule: Rule) -> BakePlan:
    """The first line, with a life of as many days, and no other."""
    line = plan.lines[0].line.model_copy(update={"shelf_life_days": len(stock_by_age)})
    stock = np.array(stock_by_age, np.int16)
    return replace(plan, lines=(replace(plan.lines[0], line=line, rule=rule, stock_by_age=stock),))


def test_a_closed_day_is_passed_over(sample_plan: BakePlan, sample_demand: DemandModel) -> None:
    """A public holiday on which the sample's events log says the store is shut: what is on the
    shelf is a day older, and what is on its last day is gone."""
    shut = date(2026, 11, 26)
    assert shut in sample_demand.calendar.closed
    calendar = replace(sample_demand.calendar, origin=shut - timedelta(days=1))
    demand = replace(sample_demand, calendar=calendar)
    targets = np.array([10, 11, 12, 13, 14, 15, 16], np.int16)
    plan = one_line(sample_plan, [0, 3, 2, 4], Rule(targets))
    sheet = pan_up_sheet(plan, demand)
    assert (sheet.evening, sheet.bake_date) == (shut, date(2026, 11, 27))
    assert (sheet.is_open, sheet.closed) == (True, (shut,))
    row = sheet.batches.row(0, named=True)
    # a Friday; 3 + 2 of the 9 units
    assert (row["target_units"], row["on_hand_units"]) == (14, 5)
    assert row["batch_units"] == plan.lines[0].line.batch_for(14 - 5)
    assert sheet_title(sheet) == "To pull and pan up for Friday 2026-11-27"
    (note,) = (said for said in sheet_notes(sheet, "USD") if "closed" in said)
    assert note.startswith("The store is closed on Thursday 2026-11-26: ")
    assert sheet.basis == "Stock at close of 2026-11-25, from the records."
    assert note in plan_page(plan, sheet)
    assert plan_document(plan, sheet)["tonight"]["closed"] == ["2026-11-26"]


def test_a_weekday_off_is_passed_over(sample_plan: BakePlan, sample_demand: DemandModel) -> None:
    store = sample_demand.calendar.store
    days = tuple(day for day in store.open_days if day != "monday")
    calendar = replace(sample_demand.calendar, store=store.model_copy(update={"open_days": days}))
    sheet = pan_up_sheet(sample_plan, replace(sample_demand, calendar=calendar))
    assert (sheet.evening, sheet.bake_date) == (MONDAY, MONDAY + timedelta(days=1))
    baked = [line.line.name for line in sample_plan.lines if 1 in line.rule.bake_days]
    assert sheet.batches["product"].to_list() == baked


@pytest.mark.parametrize("n_closed", [1, 2, 3, 4, 6])
def test_the_shelf_ages_on_closed_days_as_the_engine_has_it(
    n_closed: int, sample_plan: BakePlan, sample_demand: DemandModel
) -> None:
    """No shoppers and no bakes: what the engine has left is what the sheet counts on, by age."""
    stock = [0, 5, 1, 7, 2]
    weekday = np.arange(n_closed) % 7
    flows = simulate(
        np.zeros((2, n_closed, 1), np.int16),
        Policy(np.full((1, n_closed, 1), NO_BAKE, np.int16), np.ones(1)),
        Shelf(5),
        Days(weekday, np.zeros(n_closed, np.bool_)),
        np.array(stock, np.int16)[:, None],
    )
    demand = closed_on(sample_demand, days_from(MONDAY, n_closed))
    sheet = pan_up_sheet(one_line(sample_plan, stock, Rule(np.full(7, 20, np.int16))), demand)
    assert len(sheet.closed) == n_closed
    assert sheet.batches["on_hand_units"].to_list() == [int(flows.closing[0, 0])]
    # by age: units on their last day on the bake date are those that had just as many days more
    sold = np.full((7, 5), -1, np.int16)
    sold[:, 0] = 0
    by_age = Rule(np.full(7, 20, np.int16), counts="units by age", sold_by_night=sold)
    sheet = pan_up_sheet(one_line(sample_plan, stock, by_age), demand)
    last = stock[4 - n_closed] if n_closed < 4 else 0
    assert sheet.batches["going_out_units"].to_list() == [last]


def test_a_store_closed_for_a_fortnight_has_nothing_to_pan_up(
    sample_plan: BakePlan, sample_demand: DemandModel
) -> None:
    days = days_from(MONDAY, 14)
    sheet = pan_up_sheet(sample_plan, closed_on(sample_demand, days))
    assert (sheet.evening, sheet.bake_date) == (SUNDAY, MONDAY)
    assert (sheet.is_open, sheet.closed) == (False, ())
    assert sheet.batches.is_empty()
    assert dict(sheet.batches.schema) == SCHEMA
    sheet = pan_up_sheet(sample_plan, closed_on(sample_demand, days[:-1]))
    assert (sheet.is_open, sheet.bake_date) == (True, days[-1])
    assert sheet.batches["on_hand_units"].sum() == 0
    assert sheet_notes(sheet, "USD")[0].startswith(
        "The store is closed from Monday 2026-10-05 to Saturday 2026-10-17: "
    )


def test_the_plan_of_the_week_and_the_room_are_those_of_the_bake_date(
    sample_records: Records,
    sample_demand: DemandModel,
    sample_shelf: ShelfModel,
    sample_plan: BakePlan,
) -> None:
    demand = closed_on(sample_demand, [MONDAY])
    few = replace(sample_plan, lines=sample_plan.lines[:1])
    week = plan_week(sample_records, demand, sample_shelf, few, MONDAY)
    targets = np.array([NO_BAKE, 90, *[NO_BAKE] * 5], np.int16)
    changed = replace(week, lines=(replace(week.lines[0], targets=targets),))
    sheet = pan_up_sheet(few, demand, changed)
    assert sheet.batches["target_units"].to_list() == [90]
    places = {"monday": 100, "tuesday": 2, "wednesday": 100}
    store = few.store.model_copy(
        update={"capacity": Capacity.model_validate({"rack_slots": places})}
    )
    sheet = pan_up_sheet(replace(few, store=store), demand, changed)
    assert sheet.batches["pans"].to_list() == [2]
    assert "closed" in sheet_notes(sheet, "USD")[0]
    assert sheet_notes(sheet, "USD")[1].startswith("Not all that is wanted fits")


def test_a_count_before_close_is_said_to_hold_what_was_sold_later(
    sample_plan: BakePlan, sample_demand: DemandModel
) -> None:
    plan = one_line(sample_plan, [0, 3, 2, 4], Rule(np.full(7, 20, np.int16)))
    name = plan.lines[0].line.name
    counted = replace(sample_demand, today={name: Today(0, 0, 0, 9)})
    assert "sold after" not in pan_up_sheet(plan, counted).basis
    sheet = pan_up_sheet(plan, closed_on(counted, [MONDAY]))
    assert sheet.batches["on_hand_units"].to_list() == [5]
    assert sheet.basis == (
        "Stock at the count of 2026-10-04, from the records, without the units on their last day. "
        "What was sold after the count is still in it."
    )
