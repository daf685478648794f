"""The plan of the sample store, played on the demand and the shoppers that are really there."""

from datetime import timedelta

import numpy as np
import pytest
from numpy.typing import NDArray

from shrinkwise.demand.model import DemandModel
from shrinkwise.engine.policy import Days
from shrinkwise.engine.streams import split_demand
from shrinkwise.money.week import Quantities, money_of
from shrinkwise.planning.futures import Futures
from shrinkwise.planning.line_plan import LinePlan
from shrinkwise.planning.outcome import line_outcome
from shrinkwise.planning.plan import BakePlan
from shrinkwise.planning.rule import policy_of
from shrinkwise.sample.store_days import DayBook, play
from shrinkwise.sample.truth import TRUTH, demand_paths, mean_demand

N_PATHS = 40
SETTLING = 14
WEEKS = 13


def test_the_plan_beats_the_habit_by_more_than_three_standard_errors(sample_plan: BakePlan) -> None:
    assert sample_plan.saving.mean() > 3 * sample_plan.saving_se > 0


def test_the_truth_confirms_the_saving(sample_plan: BakePlan, sample_demand: DemandModel) -> None:
    """The store's own people go on as the generator has them, against the plan's targets."""
    saving = np.zeros(N_PATHS)
    for line_plan in sample_plan.lines:
        saving += _true_saving(line_plan, sample_plan, sample_demand)
    low, high = np.quantile(sample_plan.saving, (0.05, 0.95))
    print(
        f"\nsaving a week: true {saving.mean():.0f}, stated {sample_plan.saving.mean():.0f}, "
        f"{low:.0f} to {high:.0f} in nine of ten futures"
    )
    assert low <= saving.mean() <= high
    assert saving.mean() > 3 * saving.std(ddof=1) / np.sqrt(N_PATHS)


def test_the_habit_read_from_the_logs_is_the_habit_that_made_them(
    sample_plan: BakePlan, sample_demand: DemandModel
) -> None:
    """Loss of a week under the habit that was read, against the generator's own, all lines."""
    read = sum(float(line.now.money.loss.mean()) for line in sample_plan.lines)
    truth = 0.0
    for line in sample_plan.lines:
        truth += _true_losses(line, sample_plan, sample_demand)[0].mean()
    assert read == pytest.approx(truth, rel=0.05)


def _true_saving(line_plan: LinePlan, plan: BakePlan, demand: DemandModel) -> NDArray[np.float64]:
    now, planned = _true_losses(line_plan, plan, demand)
    return now - planned


def _true_losses(
    line_plan: LinePlan, plan: BakePlan, demand: DemandModel
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    line, labour = line_plan.line, plan.store.labour
    truth = TRUTH.line(line.name)
    rng = np.random.default_rng(5)
    start = plan.start - timedelta(days=SETTLING)
    dates = [start + timedelta(days=day) for day in range(SETTLING + 7 * WEEKS)]
    wanted = demand_paths(truth, start, len(dates), N_PATHS, rng)
    days = Days(
        np.array([day.weekday() for day in dates]), demand.calendar.is_open(dates), SETTLING
    )
    means = np.repeat(mean_demand(truth, dates)[:, None], N_PATHS, axis=1)
    share = np.full(N_PATHS, truth.oldest_first_share)
    futures = Futures(split_demand(wanted, share, seed=7), means, days)
    planned = line_outcome(line, labour, futures, policy_of([line_plan.rule], futures, line))
    now = np.empty(N_PATHS)
    for path in range(N_PATHS):
        book = play(truth, wanted[:, path], start, None, rng)
        quantities = _quantities(book, line.reduce_on_day, line.units_per_pan)
        now[path] = money_of(quantities.per(WEEKS), line, labour).loss
    return now, planned.money.loss


def _quantities(book: DayBook, reduce_on_day: int | None, units_per_pan: int) -> Quantities:
    counted = slice(SETTLING, None)
    baked, sold = book.baked[counted], book.sold_by_age[counted]
    reduce_age = sold.shape[1] if reduce_on_day is None else reduce_on_day - 1
    amounts = {
        "baked": baked.sum(),
        "bakes": (baked > 0).sum(),
        "pans": np.ceil(baked / units_per_pan).sum(),
        "labelled": book.relabelled_by_age[counted].sum(),
        "sold_full": sold[:, :reduce_age].sum(),
        "sold_reduced": sold[:, reduce_age:].sum(),
        "disposed": book.disposed[counted].sum() + book.damaged_by_age[counted].sum(),
        "unmet": book.unmet[counted].sum(),
        "stock_change": 0,
    }
    return Quantities(**{name: np.asarray(float(value)) for name, value in amounts.items()})
