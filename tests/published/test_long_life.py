"""A long shelf life and a known demand is lot sizing: the Wagner-Whitin costs come out.

Sources: L. V. Snyder, Z.-J. M. Shen, Fundamentals of Supply Chain Theory, 2nd ed., Wiley 2019,
Example 3.9 and Problems 3.27 and 3.29, with the values carried by stockpyl 1.0.2; the fourth case
from the tests of R. Rossi's inventoryanalytics.
"""

import warnings
from itertools import product

import numpy as np
import pytest
from numpy.typing import NDArray

from shrinkwise.engine.policy import NO_BAKE, Days, Policy, Shelf
from shrinkwise.engine.simulate import Flows, simulate

with warnings.catch_warnings():
    # an outside package may be behind the warnings of its own dependencies
    warnings.simplefilter("ignore")
    from stockpyl.wagner_whitin import wagner_whitin

CASES = [
    ("Example 3.9", [90, 120, 80, 70], 500.0, 2.0, 1380.0),
    ("Problem 3.27", [150, 100, 80, 200], 120.0, 0.8, 424.0),
    ("Problem 3.29", [730, 580, 445, 650, 880], 100.0, 0.1, 423.0),
    ("inventoryanalytics", [10, 20, 30, 40], 30.0, 1.0, 110.0),
]
by_case = pytest.mark.parametrize(
    ("demand", "per_bake", "per_night", "cost"),
    [case[1:] for case in CASES],
    ids=[case[0] for case in CASES],
)


def bake_day_plans(demand: list[int]) -> NDArray[np.int16]:
    """Every subset of days that begins with the first, each bake covering up to the next."""
    n_days = len(demand)
    rows = []
    for later in product([False, True], repeat=n_days - 1):
        bakes = [True, *later]
        levels = np.full(n_days, NO_BAKE)
        for day in range(n_days):
            if bakes[day]:
                until = next((d for d in range(day + 1, n_days) if bakes[d]), n_days)
                levels[day] = sum(demand[day:until])
        rows.append(levels)
    return np.stack(rows).astype(np.int16)[:, :, None]


def played(demand: list[int], life: int, credit: float, oldest: bool) -> Flows:
    """All plans on the one path there is."""
    n_days = len(demand)
    streams = np.zeros((2, n_days, 1), np.int16)
    streams[0 if oldest else 1, :, 0] = demand
    levels = bake_day_plans(demand)
    policy = Policy(levels, np.full(len(levels), credit))
    return simulate(streams, policy, Shelf(life), Days(np.arange(n_days), np.ones(n_days, bool)))


def costs(flows: Flows, per_bake: float, per_night: float) -> NDArray[np.float64]:
    """Bakes and nights: a unit sold at age a lay on the shelf for a nights."""
    nights = np.arange(flows.sold_by_age.shape[1]) @ flows.sold_by_age[:, :, 0].T
    return np.asarray(per_bake * flows.bakes[:, :, 0].sum(axis=1) + per_night * nights)


@pytest.mark.parametrize("credit", [0.0, 1.0], ids=["set batch", "top-up"])
@pytest.mark.parametrize("oldest", [True, False], ids=["oldest first", "freshest first"])
@by_case
def test_the_cheapest_bake_days_cost_what_is_published(
    demand: list[int], per_bake: float, per_night: float, cost: float, credit: float, oldest: bool
) -> None:
    flows = played(demand, len(demand) + 2, credit, oldest)
    # with nothing uncertain no plan throws, misses or keeps a unit
    assert not flows.disposed.any()
    assert not flows.unmet.any()
    assert not flows.closing.any()
    assert costs(flows, per_bake, per_night).min() == pytest.approx(cost, rel=1e-12)


@by_case
def test_stockpyl_bakes_on_the_same_days(
    demand: list[int], per_bake: float, per_night: float, cost: float
) -> None:
    batches, theirs, _, _ = wagner_whitin(len(demand), per_night, per_bake, demand)
    assert theirs == pytest.approx(cost)
    found = costs(played(demand, len(demand) + 2, 0.0, True), per_bake, per_night)
    levels = bake_day_plans(demand)[:, :, 0]
    theirs_here = np.where(np.array(batches[1:]) > 0, batches[1:], NO_BAKE)
    same = (levels == theirs_here).all(axis=1)
    assert same.sum() == 1
    # several sets of bake days may cost the same; theirs must be among the cheapest here
    assert found[same][0] == pytest.approx(found.min())


def test_a_shelf_life_that_is_too_short_spoils_the_lot() -> None:
    """The other side: with two days on sale the one big bake of Example 3.9 cannot last."""
    flows = played([90, 120, 80, 70], 2, 0.0, True)
    assert (flows.bakes[0].sum(), flows.bakes[-1].sum()) == (1, 4)
    # a bake serves its day and the next; what was meant for the third day and later is thrown:
    # 80 + 70 of the one bake, 80 of bakes on days 1 and 4, 70 of bakes on days 1 and 2
    assert flows.disposed[:, 0].tolist() == [150, 80, 0, 0, 70, 0, 0, 0]
    assert (flows.unmet == flows.disposed).all()
