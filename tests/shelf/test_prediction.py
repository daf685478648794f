"""What was learned at one life and bake frequency, against the generator run at another one."""

from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np
import pytest
from generated import drawn_line, records_of, store_of
from numpy.typing import NDArray

from shrinkwise.demand.model import fit_demand
from shrinkwise.engine.policy import NO_BAKE
from shrinkwise.planning.futures import line_futures
from shrinkwise.planning.habit import habit_policy, present_habit
from shrinkwise.planning.outcome import Outcome, line_outcome
from shrinkwise.planning.rule import Rule, policy_of
from shrinkwise.planning.settings import planning_start
from shrinkwise.records.tables import Records
from shrinkwise.sample.line_truth import EVERY_DAY, Habit, LineTruth
from shrinkwise.sample.shoppers import drawn_shoppers
from shrinkwise.sample.store_days import habit_rule, play_days
from shrinkwise.sample.truth import StoreTruth, demand_paths
from shrinkwise.shelf.model import fit_shelf
from shrinkwise.shelf.sell_through import played_curve

STORES, ENOUGH = 50, 45
WEEKS, SETTLING, PATHS, RUNS = 13, 14, 200, 15
EVERY_OTHER = (0, 2, 4, 6)

Floats = NDArray[np.float64]
Change = tuple[int, tuple[int, ...]]
"""Another shelf life [days] and other bake days."""

LONGER: Change = (5, EVERY_DAY)
HALVED: Change = (3, EVERY_OTHER)


@dataclass(frozen=True)
class Truth:
    """Units disposed of per week, and the cumulative sold share by day on shelf, over the
    generator's runs [% of units that left]."""

    waste: float
    sold_pct: Floats


def wasteful_line(seed: int) -> LineTruth:
    """A line of 3 days whose bakers look at the shelf but little: longer lives waste too."""
    rng = np.random.default_rng([seed, 99])
    habit = Habit(factor=float(rng.uniform(1.1, 1.4)), credit=float(rng.uniform(0.2, 0.7)))
    return replace(drawn_line(seed), habit=habit)


def targets(truth: LineTruth, change: Change) -> NDArray[np.int16]:
    """A plan that both are told: a top-up to a multiple of the usual demand until the next bake,
    so high that something is thrown."""
    life, days = change
    multiple = 2.5 if change == LONGER else 1.25
    usual = truth.mean_units * np.array(truth.weekday_shape)
    found = np.full(7, NO_BAKE, np.int16)
    for day in days:
        until = next((k for k in range(1, life) if (day + k) % 7 in days), life)
        found[day] = round(multiple * sum(usual[(day + k) % 7] for k in range(until)))
    return found


def predicted(
    records: Records, truth: LineTruth, store: StoreTruth, changes: list[Change], seed: int
) -> list[tuple[Outcome, Outcome, Outcome]]:
    """Each change under the plan that is told, under the habit that is read from the logs, and
    under the plan with the true demand, so that only the shoppers are learned."""
    demand = fit_demand(records)
    shelf = fit_shelf(records, demand)
    (line,) = records.profile.lines
    start = planning_start(records) - timedelta(days=SETTLING)
    paths = demand.paths(start, SETTLING + 7 * WEEKS, PATHS, seed)
    futures = line_futures(paths, shelf, line.name, SETTLING, seed)
    wanted = demand_paths(
        truth, start, SETTLING + 7 * WEEKS, PATHS, np.random.default_rng(seed), store
    )
    known = line_futures(
        replace(paths, units={line.name: wanted.astype(np.int16)}), shelf, line.name, SETTLING, seed
    )
    habit = present_habit(demand.ledgers[line.name], demand, futures)
    outcomes = []
    for life, days in changes:
        multiples = {day: habit.multiples[day] for day in days}
        policy = habit_policy(
            replace(habit, bake_days=days, multiples=multiples), line, futures, seed
        )
        other, labour = line.with_life(life), records.profile.labour
        plan = policy_of([Rule(targets(truth, (life, days)))], futures, other)
        outcomes.append(
            (
                line_outcome(other, labour, futures, plan),
                line_outcome(other, labour, futures, policy),
                line_outcome(other, labour, known, plan),
            )
        )
    return outcomes


def run(
    truth: LineTruth, store: StoreTruth, change: Change, start: date, seed: int, planned: bool
) -> Truth:
    """The generator, run that way: by the plan that is told, or by its own people's habit."""
    life, days = change
    line = replace(
        truth,
        settings=truth.settings.with_life(life),
        habit=replace(truth.habit, bake_weekdays=days),
    )
    n_days, of_weekday = SETTLING + 7 * WEEKS, targets(truth, change)

    def by_plan(day: int, on_hand: int) -> int:
        return max(int(of_weekday[(start.weekday() + day) % 7]) - on_hand, 0)

    waste, sold, gone = np.zeros(RUNS), np.zeros(life), 0
    for one in range(RUNS):
        rng = np.random.default_rng([seed, one])
        demand = demand_paths(line, start, n_days, 1, rng, store)[:, 0]
        shoppers = drawn_shoppers(line, demand, start, rng, store)
        rule = by_plan if planned else habit_rule(line, start, n_days, rng, store)
        book = play_days(line, shoppers, start, None, rule, rng, store)
        waste[one] = book.disposed[SETTLING:].sum() / WEEKS
        sold += book.sold_by_age[SETTLING:].sum(axis=0)
        gone += int(book.disposed[SETTLING:].sum() + book.damaged_by_age[SETTLING:].sum())
    return Truth(float(waste.mean()), 100 * np.cumsum(sold) / (sold.sum() + gone))


Pair = tuple[Outcome, Truth]


@pytest.fixture(scope="module")
def stores() -> list[dict[tuple[Change, str], Pair]]:
    """For each store, what is predicted and what is true, by change and what it rests on."""
    found = []
    for seed in range(STORES):
        truth = wasteful_line(seed)
        store = store_of(truth)
        records = records_of(store, seed)
        start = planning_start(records) - timedelta(days=SETTLING)
        of_store = {}
        changes = [LONGER, HALVED]
        for change, outcomes in zip(
            changes, predicted(records, truth, store, changes, seed), strict=True
        ):
            by_plan = run(truth, store, change, start, seed, True)
            of_store[change, "plan"] = (outcomes[0], by_plan)
            of_store[change, "habit"] = (outcomes[1], run(truth, store, change, start, seed, False))
            of_store[change, "plan, known demand"] = (outcomes[2], by_plan)
        found.append(of_store)
    return found


CHANGES = pytest.mark.parametrize("change", [LONGER, HALVED], ids=["life 5", "halved bakes"])


def well_predicted(pairs: list[Pair]) -> int:
    """Stores whose waste is predicted within 10% or within the middle nine tenths of futures."""
    near, inside, either = 0, 0, 0
    for outcome, truth in pairs:
        waste = outcome.quantities.disposed
        low, high = np.quantile(waste, (0.05, 0.95))
        is_near = abs(float(waste.mean()) - truth.waste) <= 0.1 * truth.waste
        is_inside = bool(low <= truth.waste <= high)
        near, inside, either = near + is_near, inside + is_inside, either + (is_near or is_inside)
    true = np.mean([truth.waste for _, truth in pairs])
    stated = np.mean([outcome.quantities.disposed.mean() for outcome, _ in pairs])
    print(
        f"\nwaste of {STORES} stores: {near} within 10%, {inside} inside 90%, either {either}; "
        f"true mean {true:.1f}, predicted {stated:.1f} units a week"
    )
    assert true > 1
    return either


@CHANGES
def test_waste_under_a_plan_is_predicted(
    stores: list[dict[tuple[Change, str], Pair]], change: Change
) -> None:
    assert well_predicted([of_store[change, "plan"] for of_store in stores]) >= ENOUGH


@CHANGES
def test_waste_under_the_habit_is_predicted(
    stores: list[dict[tuple[Change, str], Pair]], change: Change
) -> None:
    assert well_predicted([of_store[change, "habit"] for of_store in stores]) >= ENOUGH


@CHANGES
def test_waste_is_predicted_without_a_bias_where_the_demand_is_known(
    stores: list[dict[tuple[Change, str], Pair]], change: Change
) -> None:
    """So that nothing is learned but the shoppers. With the demand learned, too, the mean lies
    above the truth, since waste grows by more where the demand is less than expected than it falls
    where it is more, and these stores' demand hardly varies while the forecast has to doubt it."""
    pairs = [of_store[change, "plan, known demand"] for of_store in stores]
    assert well_predicted(pairs) >= ENOUGH
    stated = np.array([outcome.quantities.disposed.mean() for outcome, _ in pairs])
    true = np.array([truth.waste for _, truth in pairs])
    assert stated.mean() == pytest.approx(true.mean(), rel=0.03)


@CHANGES
@pytest.mark.parametrize(
    ("basis", "points", "enough"), [("plan, known demand", 2.5, ENOUGH), ("plan", 3, 0.8 * STORES)]
)
def test_sell_through_is_predicted(
    stores: list[dict[tuple[Change, str], Pair]],
    change: Change,
    basis: str,
    points: float,
    enough: float,
) -> None:
    """The sold share of the units baked by the close of each day on shelf, against the true one.

    What the shoppers do is learned to within a few points; a demand that turns out otherwise than
    forecast moves the curve more, and sometimes beyond its bounds.
    """
    near, either, far = 0, 0, []
    for of_store in stores:
        outcome, truth = of_store[change, basis]
        curve = played_curve(outcome.flows.sold_by_age[0], outcome.flows.disposed[0], None)
        stated, low, high = (
            curve[f"sold_full_pct{end}"].to_numpy() for end in ("", "_low", "_high")
        )
        off = np.abs(stated - truth.sold_pct)
        inside = (low <= truth.sold_pct) & (truth.sold_pct <= high)
        far.append(off.max())
        near += bool((off <= points).all())
        either += bool((inside | (off <= points)).all())
    print(
        f"\nsell-through of {STORES} stores ({basis}): {near} within {points} points, with the "
        f"bounds {either}; {np.median(far):.1f} points off in the median, {max(far):.1f} at most"
    )
    assert (near if basis != "plan" else either) >= enough
