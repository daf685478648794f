"""Arguments that make no sense are refused before the kernel, which checks nothing, sees them."""

from dataclasses import dataclass, replace

import numpy as np
import pytest
from numpy.typing import NDArray

from shrinkwise.engine.policy import NO_BAKE, Days, Policy, Shelf, can_be_played, largest_level
from shrinkwise.engine.simulate import Flows, simulate
from shrinkwise.engine.streams import split_demand


@dataclass(frozen=True)
class Call:
    """A sound call: 2 plans, 5 days, 3 paths, a life of 2 days."""

    streams: NDArray[np.int16]
    policy: Policy
    shelf: Shelf
    days: Days
    opening_by_age: NDArray[np.integer] | None = None
    after_count: NDArray[np.int16] | None = None

    def run(self) -> Flows:
        return simulate(
            self.streams,
            self.policy,
            self.shelf,
            self.days,
            self.opening_by_age,
            after_count=self.after_count,
        )


SOUND = Call(
    np.ones((2, 5, 3), np.int16),
    Policy(np.full((2, 5, 1), 4, np.int16), np.array([0.0, 1.0])),
    Shelf(2, 2),
    Days(np.arange(5), np.ones(5, bool)),
    np.array([[0, 0, 0], [1, 2, 3]]),
)


def test_the_sound_call_runs() -> None:
    """What the cases below change is all that is wrong with them."""
    flows = SOUND.run()
    assert flows.baked.shape == (2, 7, 3)
    assert flows.opening.tolist() == [[1, 2, 3]] * 2


def levels(*shape: int, value: int = 4) -> Policy:
    return replace(SOUND.policy, levels=np.full(shape, value, np.int16))


def mixed_bake() -> Policy:
    """A bake on one path of a day and none on another: the kernel looks at the first alone."""
    policy = levels(2, 5, 3)
    policy.levels[0, 1, 0] = NO_BAKE
    return policy


def credit(*shares: float) -> Policy:
    return replace(SOUND.policy, credit=np.array(shares))


def by_age(**changes: object) -> Policy:
    """The second plan knows the stock by age."""
    taken = np.full((2, 5, 2), -1, np.int16)
    taken[1] = 3
    return replace(SOUND.policy, taken=taken, **changes)  # type: ignore[arg-type]


WRONG = {
    "fussy shoppers without a last day": (
        replace(SOUND, streams=np.ones((5, 5, 3), np.int16)),
        "or 5 with the last day for fussy ones, but held 5",
    ),
    "fussy shoppers who take nothing": (
        replace(SOUND, streams=np.ones((5, 5, 3), np.int16), shelf=Shelf(2, 2, 0)),
        "fussy_until_day must be 1 or more, but was 0",
    ),
    "more shoppers after the count than in all": (
        replace(SOUND, after_count=np.full((2, 5, 3), 2, np.int16)),
        "after_count must hold a part of the streams, 0 or more and no more",
    ),
    "shoppers after the count of other days": (
        replace(SOUND, after_count=np.zeros((2, 4, 3), np.int16)),
        r"after_count must be of the streams' shape \(2, 5, 3\), but had shape \(2, 4, 3\)",
    ),
    "expected sales of another life": (
        replace(SOUND, policy=replace(SOUND.policy, taken=np.zeros((2, 5, 3), np.int16))),
        r"taken must have shape \(2, 5, 2\), but had \(2, 5, 3\)",
    ),
    "a set batch that knows the stock by age": (
        replace(SOUND, policy=by_age(credit=np.zeros(2))),
        "must be a top-up with one level for all paths",
    ),
    "stock by age that holds units on their last day": (
        replace(SOUND, policy=by_age(count_all=True)),
        "leaves out the units on their last day",
    ),
    "three kinds of shopper": (
        replace(SOUND, streams=np.ones((3, 5, 3), np.int16)),
        "streams must hold 2 kinds of shopper, or 5 with the last day for fussy ones, but held 3",
    ),
    "levels of other days": (
        replace(SOUND, policy=levels(2, 4, 1)),
        r"levels must have shape \(n_plans, 5, 1 or 3\), but had \(2, 4, 1\)",
    ),
    "levels of other paths": (
        replace(SOUND, policy=levels(2, 5, 2)),
        r"levels must have shape \(n_plans, 5, 1 or 3\), but had \(2, 5, 2\)",
    ),
    "a level below none": (
        replace(SOUND, policy=levels(2, 5, 1, value=-2)),
        "a level must be 0 or more, or NO_BAKE",
    ),
    "a bake on some paths only": (
        replace(SOUND, policy=mixed_bake()),
        "NO_BAKE on all paths of a plan's day",
    ),
    "a credit too few": (replace(SOUND, policy=credit(0.5)), "credit must be 2 shares from 0 to 1"),
    "a credit below 0": (
        replace(SOUND, policy=credit(0.5, -0.1)),
        r"credit must be 2 shares from 0 to 1, but was array\(\[ 0.5, -0.1\]\)",
    ),
    "a credit above 1": (replace(SOUND, policy=credit(0.5, 1.1)), "credit must be 2 shares"),
    "weekdays of other days": (
        replace(SOUND, days=Days(np.arange(4), np.ones(5, bool))),
        r"weekday and is_open must have shape \(5,\)",
    ),
    "open days of other days": (
        replace(SOUND, days=Days(np.arange(5), np.ones(6, bool))),
        r"weekday and is_open must have shape \(5,\)",
    ),
    "an eighth weekday": (
        replace(SOUND, days=Days(np.arange(5) + 3, np.ones(5, bool))),
        r"weekday must be 0 \(Monday\) to 6 \(Sunday\)",
    ),
    "a weekday before Monday": (
        replace(SOUND, days=Days(np.arange(5) - 1, np.ones(5, bool))),
        r"weekday must be 0 \(Monday\) to 6 \(Sunday\)",
    ),
    "no day counted": (
        replace(SOUND, days=replace(SOUND.days, first_day=5)),
        "first_day must be 0 to 4, but was 5",
    ),
    "a first day before the days": (
        replace(SOUND, days=replace(SOUND.days, first_day=-1)),
        "first_day must be 0 to 4, but was -1",
    ),
    "no life": (
        replace(SOUND, shelf=Shelf(0)),
        "life_days, batch_step and units_per_pan must be 1 or more",
    ),
    "no batch step": (
        replace(SOUND, policy=replace(SOUND.policy, batch_step=0)),
        "life_days, batch_step and units_per_pan must be 1 or more",
    ),
    "a least batch of half a step": (
        replace(SOUND, policy=replace(SOUND.policy, batch_step=2, least_batch=3)),
        "least_batch must be a multiple of 2, but was 3",
    ),
    "a least batch below none": (
        replace(SOUND, policy=replace(SOUND.policy, least_batch=-1)),
        "least_batch must be a multiple of 1, but was -1",
    ),
    "a largest batch below the least": (
        replace(SOUND, policy=replace(SOUND.policy, least_batch=3, most_batch=np.array([3, 2]))),
        "most_batch must be 2 multiples of 1 from 3 units on",
    ),
    "a largest batch too few": (
        replace(SOUND, policy=replace(SOUND.policy, most_batch=np.array([3]))),
        "most_batch must be 2 multiples of 1 from 0 units on",
    ),
    "a least batch beyond int16": (
        replace(SOUND, policy=replace(SOUND.policy, least_batch=16_400)),
        "more than the 32767 units",
    ),
    "a bake where nothing is needed": (
        replace(SOUND, policy=replace(SOUND.policy, need_from=np.array([1, 0]))),
        "need_from must be 2 units from 1 on",
    ),
    "empty pans": (
        replace(SOUND, policy=replace(SOUND.policy, units_per_pan=0)),
        "life_days, batch_step and units_per_pan must be 1 or more",
    ),
    "reduced before the bake": (
        replace(SOUND, shelf=Shelf(2, 0)),
        "reduce_on_day must be 1 or more, but was 0",
    ),
    "a shelf beyond int16": (
        replace(SOUND, policy=levels(2, 5, 1, value=16_400)),
        "a level of 16400 units over 2 days is more than the 32767 units",
    ),
    "opening stock of a longer life": (
        replace(SOUND, opening_by_age=np.zeros((3, 3), int)),
        r"opening_by_age must have shape \(2, 3\) and nothing of age 0, but had shape \(3, 3\)",
    ),
    "opening stock that is not yet baked": (
        replace(SOUND, opening_by_age=np.array([[0, 1, 0], [0, 0, 0]])),
        "nothing of age 0",
    ),
    "less than no opening stock": (
        replace(SOUND, opening_by_age=np.array([[0, 0, 0], [0, -1, 0]])),
        "opening_by_age must be 0 or more",
    ),
    "opening stock beyond int16": (
        replace(SOUND, opening_by_age=np.array([[0, 0, 0], [0, 32_760, 0]])),
        "more than the 32767 units",
    ),
    "less than no shopper": (
        replace(SOUND, streams=np.full((2, 5, 3), -1, np.int16)),
        "streams must be 0 or more",
    ),
    "shoppers beyond int16": (
        replace(SOUND, streams=np.full((2, 5, 3), 20_000, np.int16)),
        "add up to at most 32767 units a day",
    ),
}


@pytest.mark.parametrize(("call", "message"), WRONG.values(), ids=WRONG.keys())
def test_what_is_wrong_is_named(call: Call, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        call.run()


def test_the_largest_shelf_that_fits_is_played() -> None:
    """The limits above are not too tight: a shelf just below them balances."""
    call = replace(SOUND, policy=levels(2, 5, 1, value=16_381), opening_by_age=None)
    flows = replace(call, streams=np.zeros((2, 5, 3), np.int16)).run()
    assert flows.baked[0].sum(axis=0).tolist() == [5 * 16_381] * 3
    assert not flows.imbalance().any()


@pytest.mark.parametrize(
    ("demand", "share", "message"),
    [
        (-1, 0.5, "demand must be 0 to 32767 units a day, but was -1 to 3"),
        (40_000, 0.5, "demand must be 0 to 32767 units a day, but was 3 to 40000"),
        (2, -0.01, "oldest_first_share must be 0 to 1"),
        (2, 1.01, "oldest_first_share must be 0 to 1"),
    ],
)
def test_demand_that_cannot_be_split_is_refused(demand: int, share: float, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        split_demand(np.array([[demand], [3]]), np.array([share]), 1)


def test_no_demand_at_all_is_split_into_none() -> None:
    assert split_demand(np.zeros((0, 2), int), np.full(2, 0.5), 1).shape == (2, 0, 2)


def test_the_largest_shelf_that_can_be_played_is_the_largest_that_is_taken() -> None:
    """Of a life of 5 days: every level that is said to fit runs, and the next one does not."""
    most = largest_level(5, SOUND.policy.batch_step)
    opening, shelf = np.zeros((5, 3), np.int64), Shelf(5, 2)
    for level, fits in ((most, True), (most + 1, False)):
        policy = levels(2, 5, 1, value=level)
        assert can_be_played(policy, 5) == fits
    replace(SOUND, policy=levels(2, 5, 1, value=most), opening_by_age=opening, shelf=shelf).run()
    beyond = replace(
        SOUND, policy=levels(2, 5, 1, value=most + 2), opening_by_age=opening, shelf=shelf
    )
    with pytest.raises(ValueError, match="more than the 32767 units"):
        beyond.run()
