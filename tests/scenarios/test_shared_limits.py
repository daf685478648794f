"""A scenario may change what lines share: both sides are then chosen together within limits."""

from collections.abc import Callable

import numpy as np
import pytest
from offers import START, switched

from shrinkwise.errors import PlanError, ScenarioError
from shrinkwise.planning.day_use import busy, daily_use
from shrinkwise.planning.outcome import played
from shrinkwise.planning.rule import policy_of
from shrinkwise.profile.capacity import Capacity
from shrinkwise.profile.store import Store
from shrinkwise.scenarios import compare
from shrinkwise.scenarios.compare import Comparison, weigh
from shrinkwise.scenarios.footing import Footing
from shrinkwise.scenarios.payoff import Payoff
from shrinkwise.scenarios.pool import Pool
from shrinkwise.scenarios.scenario import Scenario, parsed_scenario
from shrinkwise.scenarios.store_case import StoreCase

Weigh = Callable[..., Comparison]

LOAF = "Italian loaf"
SATURDAY = 5


def limited(name: str, saturday: int) -> Scenario:
    capacity = Capacity.model_validate({"rack_slots": {"saturday": saturday}})
    return Scenario(name, {}, capacity=capacity)


def busy_saturday(case: StoreCase, store: Store) -> float:
    """Pans of all lines on a busy Saturday."""
    uses = []
    for one in case.lines.values():
        policy = policy_of([one.rule], one.futures, one.line)
        flows = played(one.line, one.futures, policy, by_day=True)
        uses.append(daily_use(flows, one.line, store.labour, one.futures).of(0).pans)
    futures = next(iter(case.lines.values())).futures
    return float(busy(np.sum(uses, axis=0), futures)[SATURDAY])


@pytest.fixture(scope="module")
def fewer_racks(small_store: Store, weighed: Weigh) -> Comparison:
    """No limit, room enough on Saturdays, and too little for what is baked then."""
    free = switched(small_store, LOAF, extra_days=1)
    return weighed(limited("room enough", 200), limited("few racks", 9), free)


def test_the_plan_keeps_within_the_limits_of_the_scenario(
    fewer_racks: Comparison, small_store: Store
) -> None:
    roomy, tight, _ = fewer_racks.scenarios
    assert not any(case.makes_room for case in roomy.lines.values())
    assert busy_saturday(roomy, small_store) > 9
    assert busy_saturday(tight, small_store) <= 9
    cost = Payoff.of(fewer_racks, 1).week
    assert cost.mean() < -0.5
    assert any(case.makes_room for case in tight.lines.values())


def test_room_that_nobody_needs_changes_nothing(fewer_racks: Comparison) -> None:
    np.testing.assert_array_equal(Payoff.of(fewer_racks, 0).week, 0.0)


def test_break_evens_are_not_told_of_a_line_that_makes_room(
    small_store: Store, weighed: Weigh
) -> None:
    offer = switched(small_store, LOAF, extra_days=1)
    capacity = Capacity.model_validate({"rack_slots": {"saturday": 9}})
    made = weighed(Scenario("fewer", offer.lines, capacity=capacity))
    makes_room = made.scenarios[0].lines[LOAF].makes_room or made.now.lines[LOAF].makes_room
    assert (Pool.of(made, 0) is None) == makes_room


def test_without_limits_each_line_has_its_own_best_plan(
    small_footing: Footing, small_store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    def never(*_: object) -> None:
        raise AssertionError("lines without limits are not chosen together")

    monkeypatch.setattr(compare, "chosen_together", never)
    offer = switched(small_store, LOAF, extra_days=1)
    made = weigh(small_footing, [offer], START, "of the test")
    assert not any(case.makes_room for case in made.scenarios[0].lines.values())
    with pytest.raises(AssertionError):
        weigh(small_footing, [limited("racks", 200)], START, "of the test")


def test_limits_that_cannot_be_kept_are_said_by_name(weighed: Weigh) -> None:
    # the smallest bakes fit one by one, but the hours do not
    hours = Capacity.model_validate({"staffed_hours": 0.05})
    with pytest.raises(PlanError, match=r"Night shift: .* staffed_hours"):
        weighed(Scenario("Night shift", {}, capacity=hours))


SHARED = 'name = "Oven"\n[capacity]\n'


def test_settings_of_the_file_stand_in_place_of_those_of_the_store(small_store: Store) -> None:
    oven = Capacity.model_validate({"oven_loads": 6, "pans_per_oven_load": 10, "rack_slots": 50})
    held = small_store.with_capacity(oven)
    asked = parsed_scenario(f"{SHARED}oven_loads = 3\n", "oven.toml", held)
    assert asked.capacity is not None
    assert [asked.capacity.pans(day) for day in range(7)] == [30] * 7
    assert asked.store(held).capacity == asked.capacity
    # what is said as it is is no change
    assert parsed_scenario(f"{SHARED}oven_loads = 6\n", "oven.toml", held).capacity is None
    assert parsed_scenario('name = "None"\n', "none.toml", held).capacity is None


def test_a_bake_that_was_held_to_the_room_is_held_to_the_new_room(small_store: Store) -> None:
    def most(store: Store) -> int | None:
        return store.line(LOAF).max_batch

    pans = small_store.line(LOAF).units_per_pan
    small = small_store.with_capacity(Capacity.model_validate({"rack_slots": 4}))
    assert most(small) == 4 * pans
    assert most(small.with_capacity(Capacity.model_validate({"rack_slots": 8}))) == 8 * pans
    assert most(small.with_capacity(Capacity())) is None


@pytest.mark.parametrize(
    ("settings", "message"),
    [
        ("oven_lods = 3", "Line 3, capacity, oven_lods: there is no such setting"),
        ("rack_slots = -1", "Line 3, capacity, rack_slots: must be a number for every weekday"),
        ("rack_slots = { sunnday = 4 }", "capacity, rack_slots.*sunnday"),
        ("oven_loads = 3", "oven_loads and pans_per_oven_load must be given together"),
        ("rack_slots = 0", "oven.toml, line 2: capacity has no room on any day"),
    ],
)
def test_limits_that_cannot_be(small_store: Store, settings: str, message: str) -> None:
    with pytest.raises(ScenarioError, match=message):
        parsed_scenario(f"{SHARED}{settings}\n", "oven.toml", small_store)
