"""The oldest-first share that the disposal log tells, against the truth that made it."""

from dataclasses import replace

import numpy as np
import pytest

from shrinkwise.demand.model import DemandModel
from shrinkwise.records.tables import Records
from shrinkwise.sample.truth import TRUTH
from shrinkwise.shelf.model import ShelfModel, fit_shelf


def test_shares_recover_the_truth_within_their_intervals(sample_shelf: ShelfModel) -> None:
    assert sample_shelf.cannot_tell == {}
    told = [line for line in TRUTH.lines if line.coded_life_days > 1]
    assert len(told) == 15
    inside = []
    for line in told:
        low, high = sample_shelf.lines[line.name].interval()
        inside.append(low <= line.oldest_first_share <= high)
        assert high - low < 0.2
    print(f"\n{sum(inside)} of {len(inside)} true oldest-first shares lie in their 90% intervals")
    # 15 intervals of 90%: fewer than 11 happens once in 450 stores
    assert sum(inside) >= 11


def test_a_life_of_one_day_says_nothing_of_the_share(sample_shelf: ShelfModel) -> None:
    posterior = sample_shelf.lines["French bread"]
    assert posterior.interval() == pytest.approx((0.05, 0.95), abs=0.01)


def test_without_disposals_every_share_stays_possible(
    sample_records: Records, sample_demand: DemandModel
) -> None:
    silent = replace(sample_records, disposals=sample_records.disposals.clear())
    shelf = fit_shelf(silent, sample_demand)
    assert shelf.cannot_tell["Bagels"] == "there is no disposal log"
    draws = shelf.shares("Bagels", 2000, seed=1)
    assert draws.mean() == pytest.approx(0.5, abs=0.03)
    assert draws.std() == pytest.approx(1 / np.sqrt(12), abs=0.02)


def test_draws_follow_the_posterior(sample_shelf: ShelfModel) -> None:
    posterior = sample_shelf.lines["Wheat loaf"]
    draws = sample_shelf.shares("Wheat loaf", 4000, seed=2)
    assert draws.mean() == pytest.approx(posterior.mean, abs=0.002)
    assert np.quantile(draws, (0.05, 0.95)) == pytest.approx(posterior.interval(), abs=0.003)
