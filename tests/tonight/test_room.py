"""Batches that do not all fit are cut where that costs least."""

from collections.abc import Mapping
from dataclasses import replace
from itertools import product

import numpy as np
import pytest

from shrinkwise.demand.model import DemandModel
from shrinkwise.planning.curve import LossCurve
from shrinkwise.planning.line_plan import LinePlan
from shrinkwise.planning.plan import BakePlan
from shrinkwise.profile.capacity import Capacity
from shrinkwise.profile.store import Labour, Store
from shrinkwise.report.sheet_words import sheet_notes
from shrinkwise.tonight.room import cut_to_room
from shrinkwise.tonight.sheet import pan_up_sheet

MONDAY = 0
MOVED = np.array([-24, -16, -8, 0, 8])


def line_plan(plan: LinePlan, weight: float, step: int = 1, a_pan: int = 4) -> LinePlan:
    """A line for which a batch that is x units smaller costs weight x^2 [money]."""
    line = plan.line.model_copy(
        update={"batch_step": step, "units_per_pan": a_pan, "min_batch": 0, "max_batch": None}
    )
    extra = weight * np.minimum(MOVED, 0) ** 2.0
    curve = LossCurve((MONDAY,), MOVED, extra[None], np.zeros((1, len(MOVED))))
    return replace(plan, line=line, curve=curve)


def store_with(plan: BakePlan, capacity: Capacity | None, labour: Labour | None = None) -> Store:
    free = Labour(
        minutes_per_bake=0, minutes_per_pan=0, minutes_per_unit=0, minutes_per_baking_day=0
    )
    return plan.store.model_copy(update={"capacity": capacity, "labour": labour or free})


@pytest.fixture(scope="module")
def plans(sample_plan: BakePlan) -> dict[str, LinePlan]:
    weights = {"a": 0.02, "b": 0.05, "c": 0.01}
    return {
        name: line_plan(plan, weight)
        for plan, (name, weight) in zip(sample_plan.lines, weights.items(), strict=False)
    }


WANTED = {"a": 16, "b": 16, "c": 16}


def cost_of(units: Mapping[str, int], plans: Mapping[str, LinePlan]) -> float:
    return sum(
        float(np.interp(units[name] - WANTED[name], MOVED, plans[name].curve.extra[0]))
        for name in units
    )


def test_without_limits_all_that_is_wanted_is_baked(
    plans: dict[str, LinePlan], sample_plan: BakePlan
) -> None:
    for capacity in (None, Capacity(rack_slots=12)):
        room = cut_to_room(WANTED, plans, store_with(sample_plan, capacity), MONDAY)
        assert room.units == WANTED
        assert room.overruns == ()
        assert room.cost == 0


@pytest.mark.parametrize("places", [11, 8, 5, 2])
def test_the_cuts_cost_no_more_than_the_best_of_all(
    places: int, plans: dict[str, LinePlan], sample_plan: BakePlan
) -> None:
    """Against every way to fill the racks, in whole pans."""
    store = store_with(sample_plan, Capacity(rack_slots=places))
    room = cut_to_room(WANTED, plans, store, MONDAY)
    assert sum(-(-units // 4) for units in room.units.values()) == places
    best = min(
        cost_of(dict(zip(WANTED, units, strict=True)), plans)
        for units in product(range(0, 17, 4), repeat=3)
        if sum(units) <= 4 * places
    )
    assert room.cost == pytest.approx(cost_of(room.units, plans))
    assert room.cost == pytest.approx(best)
    (overrun,) = room.overruns
    assert (overrun.limit.name, overrun.wanted, overrun.most) == ("racks", 12, places)


@pytest.mark.parametrize(
    ("places", "fits"),
    [(4, {"a": 12, "c": 4}), (3, {"a": 12, "c": 0}), (2, {"a": 0, "c": 8})],
)
def test_steps_and_the_smallest_bake_are_kept(
    places: int, fits: dict[str, int], plans: dict[str, LinePlan], sample_plan: BakePlan
) -> None:
    """In sixes and no less than 12: three pans or none, however dear that is. What the other line
    gave way before there proved to be no room for it comes back."""
    odd = line_plan(plans["a"], 0.5, step=6)
    odd = replace(odd, line=odd.line.model_copy(update={"min_batch": 12}))
    room = cut_to_room(
        {"a": 18, "c": 16},
        {"a": odd, "c": plans["c"]},
        store_with(sample_plan, Capacity(rack_slots=places)),
        MONDAY,
    )
    assert room.units == fits


def test_a_short_shift_leaves_out_the_bake_that_is_worth_least(
    plans: dict[str, LinePlan], sample_plan: BakePlan
) -> None:
    """Where the set-up takes the time, smaller batches set nothing free."""
    labour = Labour(
        minutes_per_bake=30, minutes_per_pan=0, minutes_per_unit=0, minutes_per_baking_day=0
    )
    store = store_with(sample_plan, Capacity(staffed_hours=1.0), labour)
    room = cut_to_room(WANTED, plans, store, MONDAY)
    assert room.units == {"a": 16, "b": 16, "c": 0}
    (overrun,) = room.overruns
    assert (overrun.limit.name, overrun.wanted) == ("shift", 1.5)


def test_where_not_even_the_opening_fits_nothing_is_baked(
    plans: dict[str, LinePlan], sample_plan: BakePlan
) -> None:
    labour = Labour(
        minutes_per_bake=5, minutes_per_pan=0, minutes_per_unit=0, minutes_per_baking_day=90
    )
    store = store_with(sample_plan, Capacity(staffed_hours=1.0), labour)
    assert not any(cut_to_room(WANTED, plans, store, MONDAY).units.values())


def test_the_sheet_is_cut_and_says_so(sample_plan: BakePlan, sample_demand: DemandModel) -> None:
    roomy = pan_up_sheet(sample_plan, sample_demand)
    assert "wanted_units" not in roomy.shown.columns
    assert roomy.batches["wanted_units"].equals(roomy.batches["batch_units"])
    capacity = Capacity(oven_loads=2, pans_per_oven_load=12)
    store = sample_plan.store.model_copy(update={"capacity": capacity})
    sheet = pan_up_sheet(replace(sample_plan, store=store), sample_demand)
    assert sheet.batches["pans"].sum() <= 24
    assert sheet.batches["wanted_units"].equals(roomy.batches["batch_units"])
    assert (sheet.batches["batch_units"] <= sheet.batches["wanted_units"]).all()
    assert "wanted_units" in sheet.shown.columns
    said = sheet_notes(sheet, "USD")[0]
    pans = roomy.batches["pans"].sum()
    assert said.startswith(f"Not all that is wanted fits: {pans} pans where the oven takes 24.")
