"""What is told from generated logs, against the truth that made them; many stores, a line each."""

import numpy as np
import polars as pl
import pytest
from generated import drawn_line, records_of, store_of

from shrinkwise.records.ledger import stock_ledger
from shrinkwise.shelf.dated import early_by_age
from shrinkwise.shelf.share import GRID, share_posterior

STORES = 50


def test_oldest_first_shares_lie_in_their_intervals_as_often_as_they_say() -> None:
    inside, far = 0, []
    for seed in range(STORES):
        line = drawn_line(seed)
        records = records_of(store_of(line), seed)
        ledger = stock_ledger(records)[line.name]
        found = share_posterior(ledger, seed, early_by_age(records, ledger))
        low, high = found.interval()
        inside += low <= line.oldest_first_share <= high
        spread = np.sqrt(found.weights @ (GRID - found.mean) ** 2)
        far.append((found.mean - line.oldest_first_share) / spread)
    print(
        f"\n{inside} of {STORES} true shares in their 90% intervals; standardised errors: mean "
        f"{np.mean(far):.2f}, spread {np.std(far):.2f}"
    )
    assert 0.8 * STORES <= inside <= 0.98 * STORES
    # mean 0 and spread 1 where the intervals are honest: three standard errors
    assert abs(np.mean(far)) < 3 / np.sqrt(STORES)
    assert np.std(far) == pytest.approx(1, abs=3 / np.sqrt(2 * STORES))


def test_a_mishap_on_the_last_day_does_not_tell_what_shoppers_left() -> None:
    """One unit broken each day on its last day: nobody left it there."""
    line = drawn_line(3)
    records = records_of(store_of(line), 3)
    ledger = stock_ledger(records)[line.name]
    broken = records.disposals.filter(
        pl.col("reason") == "damaged",
        (pl.col("date") - pl.col("bake_date")).dt.total_days() == line.coded_life_days - 1,
    )
    assert broken.height > 0
    early = early_by_age(records, ledger)
    assert early[:, -1].sum() == broken["units"].sum()
    assert (early[:, -1] <= ledger.disposed_last_day).all()
    usual = records.disposals.filter(pl.col("reason") == "out of date")
    assert early.sum() == records.disposals["units"].sum() - (
        records.disposals.filter(pl.col("reason") != "damaged")["units"].sum()
    )
    assert usual.height > 0
