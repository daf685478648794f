"""Batches followed to their end: against the generator's own books, by hand, and in odd stores."""

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import polars as pl
import pytest
from numpy.typing import NDArray

from shrinkwise.demand.model import DemandModel
from shrinkwise.records.tables import Records
from shrinkwise.sample.logs import play_store
from shrinkwise.sample.store_days import DayBook
from shrinkwise.sample.truth import TRUTH
from shrinkwise.shelf.batches import DISPOSED, FULL, REDUCED, LineBatches, line_batches
from shrinkwise.shelf.model import ShelfModel
from shrinkwise.shelf.sell_through import SCHEMA, WAYS, curve_table, played_curve

Ints = NDArray[np.int64]


@pytest.fixture(scope="module")
def batches(
    sample_records: Records, sample_demand: DemandModel, sample_shelf: ShelfModel
) -> dict[str, LineBatches]:
    return {
        name: line_batches(sample_records, ledger, sample_shelf.lines[name], seed=1)
        for name, ledger in sample_demand.ledgers.items()
    }


@pytest.fixture(scope="module")
def books() -> dict[str, DayBook]:
    return play_store(seed=1)


def true_ends(followed: LineBatches, book: DayBook) -> tuple[Ints, NDArray[np.bool_]]:
    """Units of each whole batch by way and age, shape (3, n_whole, life); which are whole."""
    life = followed.line.shelf_life_days
    reduce_age = (followed.line.reduce_on_day or life + 1) - 1
    day = np.array([(bake - TRUTH.start).days for bake in followed.dates])
    whole = day + life <= len(book.baked)
    at = (day[whole, None] + np.arange(life), np.arange(life))
    sold, disposed = book.sold_by_age[at], book.damaged_by_age[at].copy()
    disposed[:, -1] += book.disposed[day[whole] + life - 1]
    reduced = np.arange(life) >= reduce_age
    return np.stack([np.where(reduced, 0, sold), np.where(reduced, sold, 0), disposed]), whole


def test_units_go_to_the_batches_they_were_of(
    batches: dict[str, LineBatches], books: dict[str, DayBook]
) -> None:
    """The till does not say how old a sold unit was; the generator's books do."""
    wrong, units = 0.0, 0
    for name, followed in batches.items():
        truth, whole = true_ends(followed, books[name])
        assert (truth.sum(axis=(0, 2)) == followed.baked[whole]).all()
        mean = followed.left[:, :, whole].mean(axis=0)
        misplaced = np.abs(mean - truth).sum() / 2
        wrong, units = wrong + misplaced, units + truth.sum()
        assert misplaced < 0.1 * truth.sum(), name
        # what each day sold and threw is kept; only its batch is in doubt
        assert mean[DISPOSED].sum() == pytest.approx(truth[DISPOSED].sum(), rel=0.03, abs=3), name
    print(f"\n{wrong / units:.1%} of {units} units are given to a wrong batch or day")
    assert wrong < 0.04 * units


def test_true_curves_lie_in_their_intervals(
    batches: dict[str, LineBatches], books: dict[str, DayBook]
) -> None:
    farthest = 0.0
    for name, followed in batches.items():
        truth, _ = true_ends(followed, books[name])
        share = 100 * truth.sum(axis=1).cumsum(axis=1) / truth.sum()
        curve = followed.sell_through
        for way, true in zip(WAYS, share, strict=True):
            low, high = (curve[f"{way}_pct_{bound}"].to_numpy() for bound in ("low", "high"))
            assert (low <= true + 1e-6).all(), (name, way)
            assert (true <= high + 1e-6).all(), (name, way)
            farthest = max(farthest, float(np.abs(curve[f"{way}_pct"] - true).max()))
    print(f"\nfarthest from the true share of units baked: {farthest:.2f} points")
    assert farthest < 2


def test_dates_and_reduced_sales_tell_more_than_the_share_alone(
    sample_records: Records,
    sample_demand: DemandModel,
    sample_shelf: ShelfModel,
    batches: dict[str, LineBatches],
    books: dict[str, DayBook],
) -> None:
    dateless = replace(
        sample_records,
        sales=sample_records.sales.with_columns(reduced=pl.lit(None, pl.Boolean)),
        markdowns=sample_records.markdowns.with_columns(bake_date=pl.lit(None, pl.Date)),
        disposals=sample_records.disposals.with_columns(bake_date=pl.lit(None, pl.Date)),
    )
    wrong: dict[bool, float] = {True: 0.0, False: 0.0}
    for name in ("Burger buns", "Cinnamon rolls", "Raisin loaf"):
        plain = line_batches(dateless, sample_demand.ledgers[name], sample_shelf.lines[name], 1)
        for dated, followed in ((True, batches[name]), (False, plain)):
            truth, whole = true_ends(followed, books[name])
            wrong[dated] += np.abs(followed.left[:, :, whole].mean(axis=0) - truth).sum()
    print(f"\nmisplaced with dates {wrong[True]:.0f}, without {wrong[False]:.0f}")
    assert wrong[True] < 0.8 * wrong[False]


def test_every_unit_of_a_batch_leaves_or_is_lost_sight_of(batches: dict[str, LineBatches]) -> None:
    for followed in batches.values():
        ends = followed.left.sum(axis=(1, 3)) + followed.lost_sight_of.sum(axis=2)
        assert (ends == followed.baked + followed.found).all()
        assert followed.found.sum(axis=1).max() < 0.01 * followed.baked.sum()
        table = followed.table()
        assert table.height == len(followed.dates) * followed.line.shelf_life_days
        ways = ("sold_full", "sold_reduced", "disposed", "lost_sight_of")
        one_batch = table.group_by("bake_date").agg(
            entered=pl.col("baked_units").first() + pl.col("found_units").first(),
            ended=pl.sum_horizontal(pl.col(f"{way}_units").sum() for way in ways),
        )
        assert one_batch["ended"].to_list() == pytest.approx(one_batch["entered"].to_list())
        assert table["sold_reduced_units"].sum() == pytest.approx(
            followed.left[:, REDUCED].sum() / len(followed.left)
        )


def test_batches_on_the_shelf_at_the_end_are_lost_sight_of(
    batches: dict[str, LineBatches], sample_demand: DemandModel
) -> None:
    for name, followed in batches.items():
        ledger = sample_demand.ledgers[name]
        life = followed.line.shelf_life_days
        last = ledger.dates[-1]
        age = np.array([(last - bake).days for bake in followed.dates])
        young = age < life - 1
        standing = sum(
            followed.lost_sight_of[:, batch, age[batch]] for batch in np.flatnonzero(young)
        )
        # less only what a count took away, and what it found beyond all batches
        assert np.mean(standing) == pytest.approx(ledger.on_hand_close[-1], abs=5)
        later = np.arange(life) > age[:, None]
        assert not (followed.left.sum(axis=(0, 1)) * later).any()


def test_weekdays_of_the_bake_differ_and_mix_to_the_whole(batches: dict[str, LineBatches]) -> None:
    followed = batches["White loaf"]
    first = [float(followed.by_weekday(day)["sold_full_pct"][0]) for day in range(7)]
    assert max(first) - min(first) > 3
    assert min(first) < followed.sell_through["sold_full_pct"][0] < max(first)
    sub_rolls = batches["Sub rolls"]
    never = next(d for d in range(7) if d not in TRUTH.line("Sub rolls").habit.bake_weekdays)
    assert sub_rolls.by_weekday(never).is_empty()


def test_one_week_of_batches_has_no_interval(batches: dict[str, LineBatches]) -> None:
    followed = batches["White loaf"]
    monday = next(day for day in followed.dates if day.weekday() == 0 and day.toordinal() % 7 == 1)
    kept = np.array([day == monday for day in followed.dates])
    curve = followed.curve(kept)
    assert curve["sold_full_pct_low"].is_null().all()
    assert curve["sold_full_pct"].is_not_null().all()
    assert monday + timedelta(days=1) in followed.dates


def test_lines_never_sold_have_a_curve_of_disposals(
    hopeless_folder: Path,
) -> None:
    from shrinkwise.demand.model import fit_demand
    from shrinkwise.records.reading import read_records
    from shrinkwise.shelf.model import fit_shelf

    records = read_records(hopeless_folder)
    demand = fit_demand(records)
    shelf = fit_shelf(records, demand)
    name = "Always wasted"
    if name in demand.lines:
        curve = line_batches(records, demand.ledgers[name], shelf.lines[name], 1).sell_through
        assert curve["disposed_pct"].to_list() == pytest.approx([0, 100])
        assert curve["sold_full_pct"].to_list() == pytest.approx([0, 0])
    below = line_batches(records, demand.ledgers["Below cost"], shelf.lines["Below cost"], 1)
    sold = [5 + (7 * k) % 11 for k in range(60)][1:]
    assert below.sell_through["sold_full_pct"].to_list() == pytest.approx(
        [100 * sum(sold) / (16 * len(sold))]
    )


def test_a_line_never_wasted_ends_at_no_disposals(small_copy: Callable[[], Path]) -> None:
    """The same logs with the disposals taken for sales."""
    folder = small_copy()
    name = "Kaiser rolls"
    thrown = pl.read_csv(folder / "disposals.csv").filter(pl.col("product") == name)
    others = pl.read_csv(folder / "disposals.csv").filter(pl.col("product") != name)
    others.write_csv(folder / "disposals.csv")
    sales_file = sorted(folder.glob("sales*.csv"))[-1]
    sales = pl.read_csv(sales_file)
    extra = (
        thrown.group_by("date", "product")
        .agg(pl.col("units").sum())
        .with_columns(net_sales=pl.col("units") * 1.0, reduced=pl.lit("no"))
    )
    pl.concat([sales, extra.select(sales.columns)]).write_csv(sales_file)
    from shrinkwise.demand.model import fit_demand
    from shrinkwise.records.reading import read_records
    from shrinkwise.shelf.model import fit_shelf

    records = read_records(folder)
    demand = fit_demand(records)
    shelf = fit_shelf(records, demand)
    curve = line_batches(records, demand.ledgers[name], shelf.lines[name], 1).sell_through
    assert curve["disposed_pct"][-1] == 0
    assert curve["disposed_pct_high"][-1] == 0
    assert curve["sold_full_pct"][-1] + curve["sold_reduced_pct"][-1] == pytest.approx(100)


def test_a_curve_by_hand() -> None:
    """10 baked: 4 on day 1, 3 on day 2, 2 reduced on day 3, 1 thrown that night."""
    curve = played_curve(np.array([[4], [3], [2]]), np.array([1]), reduce_on_day=3)
    assert curve["sold_full_pct"].to_list() == pytest.approx([40, 70, 70])
    assert curve["sold_reduced_pct"].to_list() == pytest.approx([0, 0, 20])
    assert curve["disposed_pct"].to_list() == pytest.approx([0, 0, 10])
    assert played_curve(np.zeros((2, 1), int), np.zeros(1, int), None).is_empty()


def test_the_bounds_of_a_played_curve_are_of_its_paths() -> None:
    sold = np.array([[10, 0, 5, 0], [0, 10, 5, 0]])
    curve = played_curve(sold, np.zeros(4, int), None)
    assert curve["sold_full_pct"].to_list() == pytest.approx([50, 100])
    assert curve["sold_full_pct_low"][0] == pytest.approx(5)
    assert curve["sold_full_pct_high"][0] == pytest.approx(95)


def test_a_curve_without_bounds_keeps_its_columns() -> None:
    curve = curve_table(np.zeros((3, 2)))
    assert dict(curve.schema) == SCHEMA
    assert curve["disposed_pct_low"].null_count() == 2
    assert FULL == 0
