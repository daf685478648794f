"""The pan-up sheet: whole steps, whole pans, and only what is baked tomorrow."""

from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np
import pytest

from shrinkwise.demand.model import DemandModel
from shrinkwise.engine.policy import NO_BAKE
from shrinkwise.planning.dates import AS_STANDING
from shrinkwise.planning.plan import BakePlan
from shrinkwise.planning.rule import Rule
from shrinkwise.planning.week import plan_week
from shrinkwise.records.tables import Records
from shrinkwise.report.sheet_words import sheet_notes
from shrinkwise.shelf.model import ShelfModel
from shrinkwise.tonight.sheet import SCHEMA, PanUpSheet, pan_up_sheet

SUNDAY, MONDAY = date(2026, 10, 4), date(2026, 10, 5)


@dataclass(frozen=True)
class Case:
    """A line for tomorrow: its stock at close, its target and how it is baked."""

    on_hand: int
    target: int
    step: int = 1
    a_pan: int = 4
    pieces: int = 6
    need: int = 1
    least: int = 0
    most: int | None = None


def sheet_of(
    plan: BakePlan, demand: DemandModel, *cases: Case, evening: date = SUNDAY
) -> PanUpSheet:
    """The sheet of a store whose first lines are these cases; no other line is baked."""
    tomorrow = (evening + timedelta(days=1)).weekday()
    lines = []
    ledgers = dict(demand.ledgers)
    for case, line_plan in zip(cases, plan.lines, strict=False):
        line = line_plan.line.model_copy(
            update={
                "batch_step": case.step,
                "units_per_pan": case.a_pan,
                "pieces_per_unit": case.pieces,
                "min_batch": case.least,
                "max_batch": case.most,
            }
        )
        targets = np.full(7, NO_BAKE, np.int16)
        targets[tomorrow] = case.target
        lines.append(replace(line_plan, line=line, rule=Rule(targets, case.need)))
        stock = np.append(ledgers[line.name].on_hand_close[:-1], case.on_hand)
        ledgers[line.name] = replace(ledgers[line.name], on_hand_close=stock)
    calendar = replace(demand.calendar, origin=evening)
    return pan_up_sheet(
        replace(plan, lines=tuple(lines)), replace(demand, calendar=calendar, ledgers=ledgers)
    )


@pytest.mark.parametrize(
    ("case", "batch", "pans", "pieces"),
    [
        # 20 - 6 = 14 units; 14 / 4 = 3.5 pans
        (Case(on_hand=6, target=20), 14, 4, 84),
        # 20 - 7 = 13, up to a multiple of 3: 15; 15 / 4 = 3.75 pans
        (Case(on_hand=7, target=20, step=3), 15, 4, 90),
        # an exact multiple is not rounded up further: 20 - 8 = 12; 12 / 4 = 3 pans
        (Case(on_hand=8, target=20, step=3), 12, 3, 72),
        # one short of a step is a whole step: 1 up to 6; 6 / 6 = 1 pan of 6, of 12 pieces each
        (Case(on_hand=19, target=20, step=6, a_pan=6, pieces=12), 6, 1, 72),
        # stock at its target: the line stands on the sheet with nothing to pan
        (Case(on_hand=20, target=20), 0, 0, 0),
        # more on the shelf than wanted is not unbaked
        (Case(on_hand=27, target=20, step=3), 0, 0, 0),
        # no less than 10 where anything is needed, no more than 16, in whole threes: 12 and 15
        (Case(on_hand=18, target=20, step=3, least=10, most=16), 12, 3, 72),
        (Case(on_hand=2, target=20, step=3, least=10, most=16), 15, 4, 90),
        (Case(on_hand=20, target=20, step=3, least=10, most=16), 0, 0, 0),
        # 8 are missing: enough where 8 are needed, too few where 9 are
        (Case(on_hand=12, target=20, need=8), 8, 2, 48),
        (Case(on_hand=12, target=20, need=9), 0, 0, 0),
        # an empty shelf
        (Case(on_hand=0, target=20), 20, 5, 120),
        # baked that day, but only to clear: a target of nothing
        (Case(on_hand=0, target=0), 0, 0, 0),
    ],
)
def test_batch_is_the_target_less_the_stock_in_whole_steps(
    case: Case,
    batch: int,
    pans: int,
    pieces: int,
    sample_plan: BakePlan,
    sample_demand: DemandModel,
) -> None:
    sheet = sheet_of(sample_plan, sample_demand, case)
    assert sheet.batches.to_dicts() == [
        {
            "product": sample_plan.lines[0].line.name,
            "on_hand_units": case.on_hand,
            "going_out_units": 0,
            "target_units": case.target,
            "least_need_units": case.need,
            "batch_units": batch,
            "wanted_units": batch,
            "pans": pans,
            "pieces": pieces,
        }
    ]


def test_lines_not_baked_that_day_are_left_out(
    sample_plan: BakePlan, sample_demand: DemandModel
) -> None:
    cases = [Case(on_hand=2, target=9), Case(on_hand=2, target=NO_BAKE), Case(on_hand=2, target=5)]
    sheet = sheet_of(sample_plan, sample_demand, *cases)
    first, _, third = (plan.line.name for plan in sample_plan.lines[:3])
    assert sheet.batches["product"].to_list() == [first, third]
    assert sheet.batches["batch_units"].to_list() == [7, 3]


def test_the_target_is_tomorrows_not_todays(
    sample_plan: BakePlan, sample_demand: DemandModel
) -> None:
    line = replace(sample_plan.lines[0], rule=Rule(np.arange(10, 17, dtype=np.int16)))
    plan = replace(sample_plan, lines=(line,))
    for day in range(7):
        # 4 October 2026 is a Sunday: its sheet is for Monday, target 10, then 11, ...
        evening = SUNDAY + timedelta(days=day)
        calendar = replace(sample_demand.calendar, origin=evening, closed=frozenset())
        sheet = pan_up_sheet(plan, replace(sample_demand, calendar=calendar))
        assert sheet.batches["target_units"].to_list() == [10 + day]


def test_the_samples_sheet_counts_on_the_last_evenings_stock(
    sample_plan: BakePlan, sample_demand: DemandModel
) -> None:
    sheet = pan_up_sheet(sample_plan, sample_demand)
    assert (sheet.evening, sheet.bake_date, sheet.is_open) == (SUNDAY, MONDAY, True)
    assert dict(sheet.batches.schema) == SCHEMA
    baked = [
        plan.line.name for plan in sample_plan.lines if MONDAY.weekday() in plan.rule.bake_days
    ]
    assert sheet.batches["product"].to_list() == baked
    for row in sheet.batches.iter_rows(named=True):
        line = sample_plan.store.line(row["product"])
        assert row["on_hand_units"] == sample_demand.ledgers[line.name].on_hand_close[-1]
        assert row["batch_units"] % line.batch_step == 0
        stock = row["on_hand_units"] + row["batch_units"]
        if row["target_units"] is None:
            plan = next(one for one in sample_plan.lines if one.line.name == line.name)
            assert plan.rule.batch_table is not None
            on_shelf = tuple(int(units) for units in plan.stock_by_age[1:])
            assert row["batch_units"] == plan.rule.batch_table[(MONDAY.weekday(), *on_shelf)]
            continue
        # the target is met, and by less than one step too many, or too little is missing
        missing = row["target_units"] - row["on_hand_units"]
        assert stock >= row["target_units"] or missing < row["least_need_units"]
        if row["batch_units"]:
            assert missing >= row["least_need_units"]
            assert stock - row["target_units"] < line.batch_step
            assert row["pans"] * line.units_per_pan >= row["batch_units"]
            assert (row["pans"] - 1) * line.units_per_pan < row["batch_units"]


def test_what_goes_out_of_date_is_not_counted_on(
    sample_plan: BakePlan, sample_demand: DemandModel
) -> None:
    """9 units of a life of 4 days, 5 of them in their last day tomorrow: 2 will be sold by then."""
    line_plan = next(one for one in sample_plan.lines if one.line.shelf_life_days == 4)
    sold = np.full((7, 4), -1, np.int16)
    sold[0, 0] = 2
    rule = Rule(np.full(7, 20, np.int16), counts="units by age", sold_by_night=sold)
    stock = np.array([0, 4, 0, 5], np.int16)
    name = line_plan.line.name
    ledger = sample_demand.ledgers[name]
    closed = np.append(ledger.on_hand_close[:-1], 9)
    ledgers = sample_demand.ledgers | {name: replace(ledger, on_hand_close=closed)}
    plan = replace(sample_plan, lines=(replace(line_plan, rule=rule, stock_by_age=stock),))
    sheet = pan_up_sheet(plan, replace(sample_demand, ledgers=ledgers))
    row = sheet.shown.row(0, named=True)
    assert (row["on_hand_units"], row["going_out_units"]) == (9, 3)
    assert row["batch_units"] == line_plan.line.batch_for(20 - 9 + 3)


def test_the_plan_of_the_week_goes_before_the_standing_plan(
    sample_records: Records,
    sample_demand: DemandModel,
    sample_shelf: ShelfModel,
    sample_plan: BakePlan,
) -> None:
    """Tomorrow lies in the week: what differs in it is on the sheet, the rest is as ever."""
    few = replace(sample_plan, lines=sample_plan.lines[:3])
    week = plan_week(sample_records, sample_demand, sample_shelf, few, MONDAY)
    first = replace(week.lines[0], targets=np.full(7, 90, np.int16))
    second = replace(week.lines[1], targets=np.full(7, NO_BAKE, np.int16))
    third = replace(week.lines[2], targets=np.full(7, AS_STANDING, np.int16))
    changed = replace(week, lines=(first, second, third))
    as_ever = pan_up_sheet(few, sample_demand)
    sheet = pan_up_sheet(few, sample_demand, changed)
    names = [line.line.name for line in few.lines]
    assert sheet.batches["product"].to_list() == [names[0], names[2]]
    row = sheet.batches.row(0, named=True)
    assert row["target_units"] == 90
    assert row["batch_units"] >= 90 - row["on_hand_units"]
    assert sheet.batches.row(1) == as_ever.batches.row(2)
    later = replace(changed, dates=tuple(day + timedelta(days=7) for day in week.dates))
    assert pan_up_sheet(few, sample_demand, later).batches.equals(as_ever.batches)


def test_where_the_habit_does_as_well_the_batch_is_a_second_opinion(
    sample_plan: BakePlan, sample_demand: DemandModel
) -> None:
    """The sample's French bread lives for a day, and its baker knows the season by heart."""
    sheet = pan_up_sheet(sample_plan, sample_demand)
    assert sheet.as_before == ("French bread",)
    assert sheet_notes(sheet, "USD")[-1].startswith("French bread: the present habit does as well")
    (bread,) = (one for one in sample_plan.lines if one.line.name == "French bread")
    dearer = replace(bread.now.money, loss=2 * bread.now.money.loss)
    better = replace(bread, now=replace(bread.now, money=dearer))
    assert not better.keeps_habit
    lines = (better,)
    sheet = pan_up_sheet(replace(sample_plan, lines=lines), sample_demand)
    assert sheet_notes(sheet, "USD") == []
    # a rule that is taken for the store's sake is no second opinion
    assert not replace(bread, for_store=True).keeps_habit
