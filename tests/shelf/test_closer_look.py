"""How many other shoppers there may be of lines whose logs show no sign of them."""

import numpy as np
import pytest

from shrinkwise.demand.model import DemandModel
from shrinkwise.planning.futures import line_futures
from shrinkwise.records.tables import Records
from shrinkwise.shelf.kind_pool import closer_look
from shrinkwise.shelf.kind_posterior import OLDEST
from shrinkwise.shelf.kinds import NOT_SEEN, LineKinds
from shrinkwise.shelf.model import ShelfModel

NAME = "Wheat loaf"
"""The sample's shoppers are oldest-first and freshest-first ones; this line's logs tell the share
of the former most sharply of all."""


@pytest.fixture(scope="module")
def looked_at(
    sample_records: Records, sample_demand: DemandModel, sample_shelf: ShelfModel
) -> LineKinds:
    share, kinds = sample_shelf.lines[NAME], sample_shelf.kinds[NAME]
    return closer_look(sample_records, sample_demand.ledgers[NAME], sample_demand, share, kinds)


def test_who_is_not_seen_stays_out_of_the_plan_with_an_upper_bound(looked_at: LineKinds) -> None:
    for kind in (looked_at.fussy, looked_at.switching, looked_at.bargain):
        assert kind.reason == NOT_SEEN
        assert not kind.plays
        assert kind.low is not None
        assert kind.high is not None
        assert 0 <= kind.low < kind.high < 1
    assert looked_at.draws is None
    assert looked_at.bargain.high is not None
    assert looked_at.bargain.high < 0.1


def test_a_share_told_to_less_than_a_step_of_its_grid_is_told(
    looked_at: LineKinds, sample_shelf: ShelfModel
) -> None:
    draws = looked_at.possible
    assert draws is not None
    assert np.isfinite(draws.values).all()
    alone = sample_shelf.lines[NAME]
    assert draws.mean(OLDEST) == pytest.approx(alone.mean, abs=0.06)


def test_futures_with_every_kind_hold_them(
    looked_at: LineKinds, sample_demand: DemandModel, sample_shelf: ShelfModel
) -> None:
    start = sample_demand.ledgers[NAME].dates[-1]
    paths = sample_demand.paths(start, 14, 50, seed=1)
    every = sample_shelf.with_every_kind(NAME, looked_at)
    futures = line_futures(paths, every, NAME, 0, 1)
    assert futures.streams.shape[0] == 5
    assert (futures.streams.sum(axis=(1, 2)) > 0).all()
    assert line_futures(paths, sample_shelf, NAME, 0, 1).streams.shape[0] == 2
    assert every.lines["Bagels"] is sample_shelf.lines["Bagels"]


def test_a_line_that_is_never_reduced_is_not_looked_at(
    sample_records: Records, sample_demand: DemandModel, sample_shelf: ShelfModel
) -> None:
    name = "Croissants"
    kinds = sample_shelf.kinds[name]
    ledger = sample_demand.ledgers[name]
    found = closer_look(sample_records, ledger, sample_demand, sample_shelf.lines[name], kinds)
    assert found is kinds
    assert sample_shelf.with_every_kind(name, found).other_kinds(name, 5, 1) is None
