"""The futures that are searched and those on which plans are judged."""

from itertools import combinations

import numpy as np
import pytest
from generated import drawn_line, records_of, store_of

from shrinkwise.demand.model import DemandModel, fit_demand
from shrinkwise.planning.settings import PlanSettings, planning_start
from shrinkwise.planning.two_sets import DrawnSet, judging_futures
from shrinkwise.records.tables import Records
from shrinkwise.shelf.model import fit_shelf

N_PATHS = 200


@pytest.fixture(scope="module")
def logs() -> tuple[Records, DemandModel]:
    records = records_of(store_of(drawn_line(3, life=2)), seed=5)
    return records, fit_demand(records)


def settings(seed: int) -> PlanSettings:
    """With as many paths in either set."""
    return PlanSettings(
        seed=seed, weeks=2, search_paths=N_PATHS, polish_times=1, judge_paths=N_PATHS
    )


def correlation(one: np.ndarray, other: np.ndarray) -> float:
    """Of two sets of futures, day by day, freed of what all paths of a day share."""
    one, other = (set_ - set_.mean(axis=1, keepdims=True) for set_ in (one, other))
    return float(np.corrcoef(one.ravel(), other.ravel())[0, 1])


def test_no_future_that_is_judged_is_one_that_was_searched(
    logs: tuple[Records, DemandModel],
) -> None:
    """Neither with the same seed nor with another one."""
    records, demand = logs
    start, store = planning_start(records), records.profile
    (name,) = demand.lines
    drawn = {
        (seed, judge): DrawnSet.of(judge, start, store, demand, settings(seed))
        for seed in (0, 1, 2)
        for judge in (False, True)
    }
    assert len({one.seed for one in drawn.values()}) == len(drawn)
    units = [one.paths.units[name].astype(float) for one in drawn.values()]
    for one, other in combinations(units, 2):
        assert one.shape == other.shape == (28, N_PATHS)
        # paths share no noise: four standard errors of a path's mean, which its days share
        assert abs(correlation(one, other)) < 4 / np.sqrt(N_PATHS)


def test_shoppers_of_the_two_sets_are_drawn_apart_too(logs: tuple[Records, DemandModel]) -> None:
    records, demand = logs
    (sets,) = judging_futures(records, demand, fit_shelf(*logs), settings(1)).values()
    oldest = [one.streams[0].astype(float) for one in (sets.search, sets.judge)]
    assert abs(correlation(*oldest)) < 4 / np.sqrt(N_PATHS)
    again = judging_futures(records, demand, fit_shelf(*logs), settings(1))
    (same,) = again.values()
    assert (same.judge.streams == sets.judge.streams).all()
