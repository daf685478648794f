"""The oldest-first share that the disposal log tells, against the truth that made it."""

from dataclasses import replace

import numpy as np
import pytest

from shrinkwise.demand.model import DemandModel
from shrinkwise.records.tables import Records
from shrinkwise.sample.truth import TRUTH
from shrinkwise.shelf.model import ShelfModel, fit_shelf
from shrinkwise.shelf.sell_through import sell_through


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
    # all sales are of the bake day, and the rest is thrown that night
    assert posterior.sold_by_age[0] + posterior.disposed == pytest.approx(posterior.baked, rel=0.01)


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


def test_sales_by_age_agree_with_the_sample_stores_own_books(
    sample_shelf: ShelfModel, sample_demand: DemandModel
) -> None:
    """The till does not say how old a sold unit was; the generator's books do."""
    from shrinkwise.sample.logs import play_store

    books = play_store(seed=1)
    for name in ("Hot dog buns", "White loaf", "Kaiser rolls"):
        posterior = sample_shelf.lines[name]
        truth = books[name].sold_by_age[-364:].sum(axis=0)
        assert posterior.sold_by_age / posterior.sold_by_age.sum() == pytest.approx(
            truth / truth.sum(), abs=0.03
        )


def test_sell_through_by_hand() -> None:
    """10 baked: 4 on day 1, 3 on day 2, 2 reduced on day 3, 1 thrown that night."""
    curve = sell_through([4, 3, 2], disposed=1, reduce_on_day=3)
    assert curve["sold_full_pct"].to_list() == pytest.approx([40, 70, 70])
    assert curve["sold_reduced_pct"].to_list() == pytest.approx([0, 0, 20])
    assert curve["disposed_pct"].to_list() == pytest.approx([0, 0, 10])
    assert sell_through([0, 0], disposed=0, reduce_on_day=None).is_empty()
