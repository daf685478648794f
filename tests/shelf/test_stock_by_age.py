"""The stock by age at the end of the records: against the ledger, by hand, against the truth."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from shrinkwise.demand.model import DemandModel, fit_demand
from shrinkwise.demand.paths import MOST_UNITS
from shrinkwise.profile.line import Line
from shrinkwise.records.ledger import LineLedger
from shrinkwise.records.reading import read_records
from shrinkwise.records.tables import Records
from shrinkwise.sample.logs import play_store
from shrinkwise.shelf.model import ShelfModel, fit_shelf
from shrinkwise.shelf.share import StockPosterior, share_posterior, stock_posterior

N = 400
OLDEST_FIRST, FRESHEST_FIRST = 1 - 1e-9, 1e-9
Ints = NDArray[np.int64]


def by_hand(
    life: int, baked: list[int], sold: list[int], thrown: list[int], on_hand: list[int]
) -> LineLedger:
    """The ledger of a line from its flows and its units on hand at close."""
    nothing = np.zeros(len(baked), np.int64)
    return LineLedger(
        line=Line(name="Rye", category="breads", price=4.0, dough_cost=1.0, shelf_life_days=life),
        start=date(2026, 3, 2),
        is_open=nothing == 0,
        baked=np.array(baked),
        sold=np.array(sold),
        sold_reduced=nothing,
        labelled=nothing,
        disposed_last_day=np.array(thrown),
        disposed_early=nothing,
        on_hand_open=np.array([0, *on_hand[:-1]]),
        on_hand_close=np.array(on_hand),
        sold_out=nothing > 0,
        unexplained=nothing,
        bake_seen=nothing > 0,
        bakes_inferred=False,
    )


def batches(ledger: LineLedger) -> Ints:
    """Units baked, by age on the morning after the last night."""
    life = ledger.line.shelf_life_days
    return np.array([0, *(ledger.baked[-age] for age in range(1, life))])


@pytest.fixture(scope="module")
def silent_shelf(sample_records: Records, sample_demand: DemandModel) -> ShelfModel:
    """The sample store without its disposal log."""
    silent = replace(sample_records, disposals=sample_records.disposals.clear())
    return fit_shelf(silent, sample_demand)


def test_every_draw_adds_up_to_the_ledger_and_fits_its_batches(
    sample_shelf: ShelfModel, sample_demand: DemandModel
) -> None:
    for name, ledger in sample_demand.ledgers.items():
        stock = sample_shelf.stock_by_age(name, N, seed=3)
        assert stock.dtype == np.int16
        assert stock.shape == (ledger.line.shelf_life_days, N)
        assert (stock.sum(axis=0) == ledger.on_hand_close[-1]).all()
        assert (stock >= 0).all()
        assert (stock <= batches(ledger)[:, None]).all()


def test_the_same_seed_gives_the_same_stock_and_another_seed_another(
    sample_shelf: ShelfModel,
) -> None:
    stock = sample_shelf.stock_by_age("White loaf", N, seed=3)
    assert (stock == sample_shelf.stock_by_age("White loaf", N, seed=3)).all()
    assert (stock != sample_shelf.stock_by_age("White loaf", N, seed=4)).any()


def test_draws_are_near_the_generators_own_books(
    sample_shelf: ShelfModel, sample_demand: DemandModel
) -> None:
    wrong, guessed, units = 0.0, 0.0, 0
    for name, book in play_store(seed=1).items():
        truth, batch = book.closing_by_age, batches(sample_demand.ledgers[name])
        stock = sample_shelf.stock_by_age(name, N, seed=3)
        in_proportion = truth.sum() * batch / max(batch.sum(), 1)
        wrong += np.abs(stock.mean(axis=1) - truth).sum() / 2
        guessed += np.abs(in_proportion - truth).sum() / 2
        units += truth.sum()
        assert (stock.min(axis=1) <= truth).all()
        assert (stock.max(axis=1) >= truth).all()
    print(f"\nof {units} units on hand {wrong:.0f} at a wrong age; by the batches {guessed:.0f}")
    assert wrong < 0.5 * guessed


def test_what_is_thrown_tells_what_is_left() -> None:
    """10 baked, 4 sold; 10 baked, 6 sold; 4 of the first batch thrown: 2 of the 6 were old."""
    ledger = by_hand(
        life=3,
        baked=[0, 0, 0, 10, 10, 5],
        sold=[0, 0, 0, 4, 6, 0],
        thrown=[0, 0, 0, 0, 0, 4],
        on_hand=[0, 0, 0, 6, 10, 11],
    )
    shelf = ShelfModel({"Rye": share_posterior(ledger, seed=1)}, cannot_tell={})
    stock = shelf.stock_by_age("Rye", N, seed=1)
    told = (stock == np.array([[0], [5], [6]])).all(axis=0)
    assert told.mean() > 0.98


def test_units_that_a_count_adds_find_room_in_their_batches() -> None:
    """By the balance 2 of the last batch are left; the count has 2 more, then 3 more than 5."""
    ledger = by_hand(3, [0, 5, 5], [0, 5, 3], [0, 0, 0], [0, 0, 4])
    stock = stock_posterior(ledger, 1, True)
    assert np.unique(stock.units.reshape(-1, 3), axis=0).tolist() == [[0, 4, 0]]
    more = stock_posterior(replace(ledger, on_hand_close=np.array([0, 0, 8])), 1, True)
    assert np.unique(more.units.reshape(-1, 3), axis=0).tolist() == [[0, 5, 3]]


@pytest.mark.parametrize(
    ("share", "left"), [(FRESHEST_FIRST, [0, 2, 4]), (OLDEST_FIRST, [0, 5, 7])]
)
def test_without_a_disposal_log_what_is_out_of_date_leaves(share: float, left: list[int]) -> None:
    """Day 1: 10 baked, 4 sold. Day 2: 10 and 6. Day 3: 5 and 3, then the first batch is due.

    Freshest first, 6 of it are left to be thrown; oldest first, the 6 of day 2 took them all.
    """
    ledger = by_hand(3, [10, 10, 5], [4, 6, 3], [0, 0, 0], [6, 10, 12])
    stock = stock_posterior(ledger, 1, False, np.array([share]))
    assert stock.draws(np.full(N, share), np.random.default_rng(1)).T.tolist() == [left] * N


def test_without_a_disposal_log_there_is_never_more_than_the_ledger_carries(
    silent_shelf: ShelfModel, sample_demand: DemandModel
) -> None:
    ledger_less = 0
    for name, ledger in sample_demand.ledgers.items():
        stock = silent_shelf.stock_by_age(name, N, seed=3)
        assert not stock[0].any()
        assert (stock >= 0).all()
        assert (stock <= batches(ledger)[:, None]).all()
        assert (stock.sum(axis=0) <= ledger.on_hand_close[-1]).all()
        ledger_less += bool((stock.sum(axis=0) < ledger.on_hand_close[-1]).any())
    assert ledger_less > 0


def test_each_stock_goes_with_its_share(silent_shelf: ShelfModel) -> None:
    """Where shoppers take the freshest, what they leave is old."""
    shares = silent_shelf.shares("Wheat loaf", N, seed=3)
    stock = silent_shelf.stock_by_age("Wheat loaf", N, seed=3)
    few, many = stock[:, shares < 0.3].sum(axis=1), stock[:, shares > 0.7].sum(axis=1)
    age = np.arange(len(stock))
    assert age @ few / few.sum() > age @ many / many.sum() + 1


def test_each_stock_is_of_the_reconstruction_of_its_path(small_copy: Callable[[], Path]) -> None:
    folder = small_copy()
    (folder / "bakes.csv").unlink()
    records = read_records(folder)
    demand = fit_demand(records)
    shelf = fit_shelf(records, demand)
    totals = set()
    for name, line in demand.lines.items():
        every = len(line.reconstructions)
        assert every == shelf.strata[name]
        stock = shelf.stock_by_age(name, N, seed=3)
        for one, told in enumerate(line.reconstructions):
            on_hand = told.ledger.on_hand_close[-1]
            totals.add((name, int(on_hand)))
            assert (stock[:, one::every].sum(axis=0) == on_hand).all()
            assert (stock[:, one::every] <= batches(told.ledger)[:, None]).all()
    # the reconstructions differ, so that a mix-up shows
    assert len(totals) > 2 * len(demand.lines)


def test_the_nearest_share_that_was_followed_is_drawn_from() -> None:
    units = np.array([[[0, 1, 0]], [[0, 0, 2]]])
    stock = StockPosterior(np.array([0.25, 0.75]), units, np.ones((2, 1)))
    drawn = stock.draws(np.array([0.0, 0.49, 0.5, 1.0]), np.random.default_rng(1))
    assert drawn.tolist() == [[0, 0, 0, 0], [1, 1, 0, 0], [0, 0, 2, 2]]


def test_likely_stocks_are_drawn_more_often() -> None:
    stock = StockPosterior(np.array([0.5]), np.array([[[0, 1], [0, 2]]]), np.array([[0.2, 0.8]]))
    drawn = stock.draws(np.full(10_000, 0.5), np.random.default_rng(1))
    assert (drawn[1] == 2).mean() == pytest.approx(0.8, abs=0.02)


def test_a_stock_beyond_all_measure_is_cut_as_the_demand_is() -> None:
    stock = StockPosterior(np.array([0.5]), np.array([[[0, 15_000, 90_000]]]), np.ones((1, 1)))
    drawn = stock.draws(np.array([0.5]), np.random.default_rng(1))
    assert drawn[:, 0].tolist() == [0, 15_000, MOST_UNITS - 15_000]
