"""What becomes of the sample store's plan when nobody logs the bakes, judged by its truth."""

import shutil
from datetime import timedelta
from pathlib import Path

import numpy as np
import polars as pl
import pytest
from numpy.typing import NDArray

from shrinkwise.demand.model import DemandModel, fit_demand
from shrinkwise.engine.policy import Days
from shrinkwise.engine.streams import split_demand
from shrinkwise.planning.futures import Futures
from shrinkwise.planning.line_plan import LinePlan
from shrinkwise.planning.outcome import line_outcome
from shrinkwise.planning.plan import BakePlan, plan_bakes
from shrinkwise.planning.rule import policy_of
from shrinkwise.records.reading import read_records
from shrinkwise.report.words import doubts
from shrinkwise.sample.logs import play_store
from shrinkwise.sample.truth import TRUTH, demand_paths, mean_demand
from shrinkwise.shelf.model import fit_shelf

N_PATHS, SETTLING, WEEKS = 100, 14, 13


@pytest.fixture(scope="module")
def bare(
    sample_folder: Path, tmp_path_factory: pytest.TempPathFactory
) -> tuple[DemandModel, BakePlan]:
    """Demand and plan from sales and disposals alone, the latter without reason and bake date."""
    folder = tmp_path_factory.mktemp("bare")
    for path in (sample_folder / "store.toml", *sample_folder.glob("sales_*.csv")):
        shutil.copy(path, folder)
    disposals = pl.read_csv(sample_folder / "disposals.csv")
    disposals.drop("reason", "bake_date").write_csv(folder / "disposals.csv")
    records = read_records(folder)
    demand = fit_demand(records)
    return demand, plan_bakes(records, demand, fit_shelf(records, demand), seed=1)


def test_its_loss_under_the_truth_is_within_a_tenth_of_the_full_evidence_plan(
    bare: tuple[DemandModel, BakePlan], sample_plan: BakePlan
) -> None:
    with_bakes, without = _true_loss(sample_plan), _true_loss(bare[1])
    print(f"\nloss a week under the truth: {with_bakes:.0f}, without bakes log {without:.0f}")
    assert without == pytest.approx(with_bakes, rel=0.03)


def test_the_saving_that_it_states_holds_the_true_one(bare: tuple[DemandModel, BakePlan]) -> None:
    """The true habit costs 1727 a week: the generator's own people, played on 30 futures."""
    plan = bare[1]
    true_saving = 1727 - _true_loss(plan)
    low, high = np.quantile(plan.saving, (0.05, 0.95))
    print(f"\nsaving a week: true {true_saving:.0f}, stated {low:.0f} to {high:.0f}")
    assert low < true_saving < high


def test_demand_is_not_held_low_and_its_doubt_grows(
    bare: tuple[DemandModel, BakePlan], sample_demand: DemandModel
) -> None:
    """Taken as if no day was sold out, the bare logs would give 4% less than is wanted."""
    with_bakes, without = _coming_means(sample_demand), _coming_means(bare[0])
    wider = np.mean([_width(without[name]) / _width(with_bakes[name]) for name in without])
    total = sum(float(means.mean()) for means in without.values())
    start = bare[0].calendar.origin + timedelta(days=1)
    dates = [start + timedelta(days=day) for day in range(7 * WEEKS)]
    true = sum(float(mean_demand(TRUTH.line(name), dates).mean()) for name in without)
    print(f"\ndemand a day: {total:.1f}, true {true:.1f}; ranges {100 * wider - 100:.0f}% wider")
    assert total == pytest.approx(true, rel=0.025)
    assert wider > 1.05


def test_the_true_number_of_sold_out_days_lies_among_the_reconstructed(
    bare: tuple[DemandModel, BakePlan],
) -> None:
    """Eight reconstructions need not reach as far as the truth: by 2% of the days at most."""
    books = play_store()
    chance, truth = [], []
    for name, line in bare[0].lines.items():
        ledger = bare[0].ledgers[name]
        assert bool(line.reconstructions) == (ledger.line.shelf_life_days > 1)
        if not line.reconstructions:
            continue
        days = ledger.is_open
        really = books[name].sold_out[-len(days) :][days]
        sold_out = np.array([one.ledger.sold_out[days] for one in line.reconstructions])
        counts = sold_out.sum(axis=1)
        near = 0.02 * days.sum()
        assert counts.min() - near <= really.sum() <= counts.max() + near, name
        chance.append(sold_out.mean(axis=0))
        truth.append(really)
    chances, really_all = np.concatenate(chance), np.concatenate(truth)
    for low, high in ((0.0, 0.1), (0.1, 0.4), (0.4, 0.7), (0.7, 1.0)):
        inside = (chances >= low) & (chances < high)
        said, true = chances[inside].mean(), really_all[inside].mean()
        print(f"\nsaid to be sold out with {said:.2f}: {true:.2f} of {inside.sum()} days were")
        assert true == pytest.approx(said, abs=0.15)


def test_a_line_of_one_day_needs_no_bakes_log(bare: tuple[DemandModel, BakePlan]) -> None:
    """All that was baked left the same night, so sold-out days show."""
    ledger, book = bare[0].ledgers["French bread"], play_store()["French bread"]
    assert ledger.baked.tolist() == book.baked.tolist()
    # a unit that was damaged in the morning looks like one that was left at night
    hidden = book.damaged_by_age.sum(axis=1) > 0
    assert (ledger.sold_out == book.sold_out)[~hidden].all()


def test_what_rests_on_inferred_bakes_says_so(bare: tuple[DemandModel, BakePlan]) -> None:
    plan = bare[1]
    assert len(plan.lines) == len(TRUTH.lines)
    for line in plan.lines:
        assert line.habit.inferred
        assert line.evidence.endswith("bakes inferred from sales and disposals")
    assert any("not logged" in doubt for doubt in doubts(plan))
    assert plan.share_unknown["Bagels"] == "there is no bakes log for this line"


def _coming_means(demand: DemandModel) -> dict[str, NDArray[np.float64]]:
    """Mean demand of the coming quarter on each path [units per day]."""
    start = demand.calendar.origin + timedelta(days=1)
    paths = demand.paths(start, 7 * WEEKS, 400, seed=9)
    return {name: means.mean(axis=0) for name, means in paths.means.items()}


def _width(values: NDArray[np.float64]) -> float:
    low, high = np.quantile(values, (0.05, 0.95))
    return float(high - low)


def _true_loss(plan: BakePlan) -> float:
    """Loss of a week of the plan's targets on the true demand and the true shoppers."""
    return sum(_true_line_loss(line, plan) for line in plan.lines)


def _true_line_loss(plan: LinePlan, whole: BakePlan) -> float:
    line, truth = plan.line, TRUTH.line(plan.line.name)
    start = whole.start - timedelta(days=SETTLING)
    dates = [start + timedelta(days=day) for day in range(SETTLING + 7 * WEEKS)]
    wanted = demand_paths(truth, start, len(dates), N_PATHS, np.random.default_rng(5))
    means = np.repeat(mean_demand(truth, dates)[:, None], N_PATHS, axis=1)
    is_open = np.array([TRUTH.plans_to_open(day) for day in dates])
    days = Days(np.array([day.weekday() for day in dates]), is_open, SETTLING)
    share = np.full(N_PATHS, truth.oldest_first_share)
    futures = Futures(split_demand(wanted, share, seed=7), means, days)
    outcome = line_outcome(line, whole.store.labour, futures, policy_of([plan.rule], futures, line))
    return float(outcome.money.loss.mean())
